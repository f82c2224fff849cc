"""Proves the watch on a family of kilns: `.venv/bin/python tests/proving/run.py --healthy 8 --each 1 --seconds 30`.

Results are kept one firing a line, under the hash of the engine and of this generator, so that a run
goes on where it stopped.
"""

import argparse
import hashlib
import json
import sys
import time
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from statistics import mean, median

from family import HEALTHY, TROUBLES
from score import AFTER, BEFORE, Result, prove

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
TREES = (ROOT / "daemon/spyhole/core", ROOT / "hardware/spyhole_hardware/emulated", HERE)


def tree_hash(*trees: Path) -> str:
    """Of all Python files below."""
    found = hashlib.sha256()
    for path in sorted(p for tree in trees for p in tree.rglob("*.py")):
        found.update(str(path.relative_to(ROOT)).encode() + b"\0" + path.read_bytes())
    return found.hexdigest()[:16]


def one(job: tuple[str, int, int]) -> Result:
    return prove(*job)[0]


def jobs(healthy: int, each: int, seconds: list[int], seed: int, kinds: list[str]) -> list[tuple[str, int, int]]:
    """Healthy kinds in turn, each trouble so many times; a seed is never used twice."""
    found = [(HEALTHY[i % len(HEALTHY)], seed + i) for i in range(healthy)]
    found += [(kind, seed + 10_000 + 100 * n + i) for n, kind in enumerate(TROUBLES) for i in range(each)]
    return [(k, s, w) for w in seconds for k, s in found if not kinds or k in kinds]


def report(results: list[Result]) -> str:
    """The score, in lines."""
    lines: list[str] = []
    well = [r for r in results if r["healthy"]]
    ill = [r for r in results if not r["healthy"] and r["onset"] is not None]
    if well:
        false = sum(len(r["false"]) for r in well)
        lines.append(f"healthy {len(well)}: false {false}, {false / len(well):.3f} a firing; "
                     f"threshold {mean(r['threshold'] for r in well):.2f}")  # fmt: skip
        for minutes in map(str, BEFORE):
            got = [r["down"][minutes] for r in well if minutes in r["down"]]
            own = [d for d in got if d["error"] is not None]
            text = f"  cone down {minutes:>3} min before: {len(own)}/{len(got)} forecast"
            if own:
                inside, n = sum(bool(d["inside"]) for d in own), len(own)
                p, z = inside / n, 1.96
                half = z * (p * (1 - p) / n + z * z / 4 / n / n) ** 0.5 / (1 + z * z / n)
                centre = (p + z * z / 2 / n) / (1 + z * z / n)
                text += (f", MAE {mean(abs(d['error'] or 0) for d in own):.1f}"
                         f", bias {mean(d['error'] or 0 for d in own):+.1f}"
                         f", covered {p:.0%} (95 %: {centre - half:.0%}-{centre + half:.0%})"
                         f", width {median(d['width'] or 0 for d in own):.0f}")  # fmt: skip
            for name in ("line", "last"):
                base = [abs(d[name]) for d in got if d[name] is not None]  # type: ignore[literal-required]
                text += f"; {name} {median(base):.0f} median" if base else ""
            lines.append(text)
        for hours in map(str, AFTER):
            off = [abs(v) for r in well if (v := r["opening"].get(hours)) is not None]
            lines.append(
                f"  opening 100 degC, {hours} h after off: {len(off)} forecasts"
                + (f", MAE {mean(off):.2f} h" if off else "")
            )
        work = [r["progress"] for r in well if r["progress"] is not None]
        lines.append(f"  cone progress MAE {mean(work):.3f}" if work else "  no cone progress")
    if ill:
        missed, late = sum(r["delay"] is None for r in ill), sum(r["late"] for r in ill)
        wrong = sum(len(r["wrong"]) for r in ill)
        lines.append(f"troubled {len(ill)}: missed {missed}, late {late}, "
                     f"wrong family {wrong / len(ill):.3f} a firing, "
                     f"false before onset {sum(len(r['false']) for r in ill) / len(ill):.3f}, "
                     f"repeats {sum(r['repeats'] for r in ill)}")  # fmt: skip
        for name, some in (("drift", [r for r in ill if r["kind"].startswith("drift")]),
                           ("others", [r for r in ill if not r["kind"].startswith("drift")])):  # fmt: skip
            delays = sorted(r["delay"] for r in some if r["delay"] is not None)
            if delays:
                lines.append(
                    f"  delay, {name}: median {median(delays):.1f}, "
                    f"95th {delays[int(0.95 * (len(delays) - 1))]:.1f} min"
                )
    for name, split in (
        ("nothing logged", [r for r in results if r["logs"] == "none"]),
        ("one probe", [r for r in results if r["probes"] == 1]),
    ):
        lines.append(f"  {name}: {len(split)} firings, false {sum(len(r['false']) for r in split)}, "
                     f"missed {sum(r['delay'] is None and r['onset'] is not None for r in split)}")  # fmt: skip
    kinds = defaultdict(list)
    for r in results:
        kinds[r["kind"]].append(r)
    lines.append(f"  {'kind':22}{'n':>3}{'missed':>7}{'late':>5}{'delay':>7}  false / wrong")
    for kind, some in kinds.items():
        delays = [r["delay"] for r in some if r["delay"] is not None]
        never = sum(r["onset"] is None for r in some) if kind in TROUBLES else 0
        miss = sum(r["delay"] is None for r in some) - never if kind in TROUBLES else 0
        tags = sorted({t for r in some for t in r["false"]}), sorted({t for r in some for t in r["wrong"]})
        lines.append(f"  {kind:22}{len(some):3}{miss:7}{sum(r['late'] for r in some):5}"
                     f"{(f'{median(delays):.0f}' if delays else '-'):>7}  {' '.join(tags[0]) or '-'}"
                     f" / {' '.join(tags[1]) or '-'}"
                     + (f"  (no onset in {never})" if never else ""))  # fmt: skip
    return "\n".join(lines)


def main() -> None:
    words = argparse.ArgumentParser(description="Prove the watch on a family of emulated kilns.")
    words.add_argument("--healthy", type=int, default=210)
    words.add_argument("--each", type=int, default=10)
    words.add_argument("--seconds", type=int, nargs="+", default=[30, 5], choices=(5, 10, 30))
    words.add_argument("--seed", type=int, help="default: from the hash of the engine")
    words.add_argument("--kinds", nargs="+", default=[], choices=(*HEALTHY, *TROUBLES))
    words.add_argument("--out", type=Path, default=ROOT / "var" / "proving")
    asked = words.parse_args()
    engine = tree_hash(TREES[0])
    seed = asked.seed if asked.seed is not None else int(engine[:6], 16)
    asked.out.mkdir(parents=True, exist_ok=True)
    kept = asked.out / f"{tree_hash(*TREES)}.jsonl"
    known: dict[tuple[str, int, int], Result] = {}
    if kept.exists():
        for line in kept.read_text().splitlines():
            key, result = json.loads(line)
            known[tuple(key)] = result
    todo = jobs(asked.healthy, asked.each, asked.seconds, seed, asked.kinds)
    began = time.monotonic()
    with ProcessPoolExecutor(2) as pool, kept.open("a") as file:
        waiting = {pool.submit(one, job): job for job in todo if job not in known}
        for n, done in enumerate(as_completed(waiting), 1):
            job = waiting[done]
            known[job] = done.result()
            file.write(json.dumps([job, known[job]]) + "\n")
            file.flush()
            print(f"\r{n} of {len(waiting)}, {(time.monotonic() - began) / n:.1f} s each", end="", file=sys.stderr)
    print(file=sys.stderr)
    for every in asked.seconds:
        print(f"engine {engine}, seed {seed}, readings each {every} s")
        print(report([known[job] for job in todo if job[2] == every]))


if __name__ == "__main__":
    main()
