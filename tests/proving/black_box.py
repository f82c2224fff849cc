"""Proves the watch from outside, on kilns of another hand: `.venv/bin/python tests/proving/black_box.py --seeds 1 3`.

Each firing is written as the four files that a person would give to `spyhole replay`, and judged from the outcomes it
writes and nothing else. Results are kept, a line each, under the hash of the engine and of what makes firings, so that
a run goes on where it stopped.
"""

import argparse
import hashlib
import json
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import mean
from typing import Any, TypedDict

from kinds import TROUBLES, Trouble, family_of
from other_files import Truth, seconds_of, write
from other_hand import HEALTHY, HOUR, OF_A_PROBE, TROUBLED

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
BEFORE_MINUTES = (180, 120, 60, 30)
AFTER_HOURS = (1, 4, 8)
LIKE = {"switch-left-medium": "switch-left-low", "ring-left-low": "still-on"}
"""Judged as another kind is."""
MINUTES = {"ring-left-low": 360.0}
"""Later is late, where it is not as in `kinds`: for hours a ring on low hardly shows in a kiln that cools."""
AT_A_RING = OF_A_PROBE | {"ring-opens", "half-element", "switch-left-low", "switch-left-medium", "lid-ajar"}
SEEN_LATER_MINUTES = 30.0
GUARD_BENT = 0.55
"""Heat work of a guard cone that is seen to bend."""


class Forecasted(TypedDict):
    """Minutes: how far the median lay from the truth, the interval's width, whether the truth lay inside."""

    error: float
    width: float
    inside: bool


class Result(TypedDict):
    """What is kept of one firing.

    said: hours, tag, ring, priority. delay: minutes from onset to the first right alarm, None: missed. false: told with
    nothing wrong, or before it. wrong: families told that neither are the trouble's nor follow from it. down: minutes
    before the cone -> forecast, None where none was made. opening: hours after the end -> hours that the 100 degC
    forecast is off. progress: mean absolute error of the heat work.
    """

    kind: str
    seed: int
    seconds: int
    known: bool
    logs: str
    seen: float | None
    said: list[tuple[float, str, str | None, str]]
    delay: float | None
    late: bool
    false: list[str]
    wrong: list[str]
    down: dict[str, Forecasted | None]
    opening: dict[str, float | None]
    progress: float | None


Outcomes = list[dict[str, Any]]


def trouble_of(kind: str) -> Trouble:
    """What is right to say of it."""
    return TROUBLES[LIKE.get(kind, kind)]


def replayed(folder: Path) -> Outcomes:
    """What `spyhole replay` says of the files in this folder. Raises where it refuses them."""
    out = folder / "outcomes.jsonl"
    command = [sys.executable, "-m", "spyhole.app.commands", "replay", str(folder / "readings.csv")]
    for name in ("kiln.toml", "plan.toml", "entries.csv"):
        command += [f"--{name.partition('.')[0]}", str(folder / name)]
    subprocess.run([*command, "--out", str(out)], check=True, capture_output=True, text=True)
    return [json.loads(line) for line in out.read_text().splitlines()]


def one(kind: str, seed: int, seconds: int = 30, *, in_far: bool = False) -> Result | None:
    """One firing, made, replayed and judged; None where the draw is left out."""
    with tempfile.TemporaryDirectory() as made:
        truth = write(kind, seed, Path(made), seconds, in_far=in_far)
        return None if truth is None else judge(truth, replayed(Path(made)), seconds)


def judge(truth: Truth, outcomes: Outcomes, seconds: int) -> Result:
    """Against the truth. Low priority counts as a find, never as a false alarm."""
    kind, onset = truth["kind"], truth["onset"]
    trouble = trouble_of(kind) if onset is not None else None
    raised = [o for o in outcomes if o["type"] == "alarm" and o["action"] == "raise"]
    delay: float | None = None
    false: list[str] = []
    wrong: list[str] = []
    for alarm in raised:
        t, tag = seconds_of(alarm["time"]), alarm["tag"]
        after = truth["begun"] is not None and t >= truth["begun"] - 60
        here = kind not in AT_A_RING or alarm["ring"] in (None, truth["ring"])
        if trouble is not None and after and onset is not None and tag in trouble.accepted and here:
            delay = max(0.0, (t - onset) / 60) if delay is None else delay
        elif alarm["priority"] == "low":
            continue
        elif trouble is not None and after:
            if not (tag in trouble.also and (here or family_of(tag) != "probe")):
                wrong.append(family_of(tag))
        elif not _borne_out(truth, tag):
            false.append(tag)
    late = False
    if trouble is not None and delay is not None:
        late = delay > max(MINUTES.get(kind, trouble.minutes), (truth["seen"] or 0.0) / 60 + SEEN_LATER_MINUTES)
    estimates = [(seconds_of(o["time"]), o) for o in outcomes if o["type"] == "estimate"]
    return Result(
        kind=kind, seed=truth["seed"], seconds=seconds, known=truth["known"], logs=truth["logs"], seen=truth["seen"],
        said=[(round(seconds_of(a["time"]) / HOUR, 2), a["tag"], a["ring"], a["priority"]) for a in raised],
        delay=delay, late=late, false=false, wrong=list(dict.fromkeys(wrong)), down=_down(truth, estimates),
        opening=_opening(truth, estimates), progress=_progress(truth, estimates),
    )  # fmt: skip


def _borne_out(truth: Truth, tag: str) -> bool:
    """Told with no trouble drawn, but of what the ware did."""
    return (tag == "guard-cone" and truth["guard"] >= GUARD_BENT) or (tag == "damp-hurry" and truth["hurried"])


def _at(estimates: list[tuple[float, dict[str, Any]]], t: float) -> dict[str, Any] | None:
    """The last within 90 s before."""
    return next((o for at, o in reversed(estimates) if t - 90 < at <= t), None)


def _down(truth: Truth, estimates: list[tuple[float, dict[str, Any]]]) -> dict[str, Forecasted | None]:
    found: dict[str, Forecasted | None] = {}
    down, end = truth["down"], truth["end"]
    if truth["onset"] is not None or down is None or (end is not None and down > end):
        return found
    for minutes in BEFORE_MINUTES:
        estimate = _at(estimates, down - minutes * 60)
        cone = estimate and estimate["cone_down"]
        if down > (minutes + 60) * 60:
            low, middle, high = (seconds_of(cone[k]) for k in ("low", "median", "high")) if cone else (0.0, 0.0, 0.0)
            found[str(minutes)] = (
                Forecasted(error=(middle - down) / 60, width=(high - low) / 60, inside=low <= down <= high)
                if cone else None
            )  # fmt: skip
    return found


def _opening(truth: Truth, estimates: list[tuple[float, dict[str, Any]]]) -> dict[str, float | None]:
    found: dict[str, float | None] = {}
    end, opens = truth["end"], truth["open_100"]
    if truth["onset"] is not None or end is None or opens is None:
        return found
    for hours in AFTER_HOURS:
        if end + hours * HOUR < opens:
            estimate = _at(estimates, end + hours * HOUR)
            cool = estimate and estimate["cool"].get("100")
            found[str(hours)] = (seconds_of(cool["median"]) - opens) / HOUR if cool else None
    return found


def _progress(truth: Truth, estimates: list[tuple[float, dict[str, Any]]]) -> float | None:
    if truth["onset"] is not None:
        return None
    off = []
    for t, work in truth["work"]:
        estimate = _at(estimates, t) if 0.05 < work < 1 else None
        if estimate is not None and estimate["cone_progress"] is not None:
            off.append(abs(min(estimate["cone_progress"], 1.5) - work))
    return mean(off) if off else None


def summary(results: list[Result]) -> list[str]:
    """The whole, as lines a person can read; then each firing that went wrong."""
    well, ill = ([r for r in results if r["kind"] in of] for of in (HEALTHY, TROUBLED))
    missed, late = [r for r in ill if r["delay"] is None], [r for r in ill if r["late"]]
    lines = [
        f"healthy {len(well)}, false alarms in {sum(bool(r['false']) for r in well)}",
        (f"troubled {len(ill)}, missed {len(missed)}, late {len(late)}, wrong families in"
         f" {sum(bool(r['wrong']) for r in ill)}, false alarms before it in {sum(bool(r['false']) for r in ill)}"),
    ]  # fmt: skip
    delays = sorted(r["delay"] for r in ill if r["delay"] is not None)
    if delays:
        lines.append(f"delay: median {delays[len(delays) // 2]:.0f}, 95th percentile"
                     f" {delays[int(0.95 * len(delays))]:.0f} minutes")  # fmt: skip
    for minutes in map(str, BEFORE_MINUTES):
        due = [r["down"][minutes] for r in well if minutes in r["down"]]
        got = [f for f in due if f is not None]
        if got:
            lines.append(
                f"cone down, {minutes} min before: {len(got)} of {len(due)} foretold,"
                f" {mean(abs(f['error']) for f in got):.1f} min off (bias {mean(f['error'] for f in got):+.1f}),"
                f" inside {sum(f['inside'] for f in got)}, width {mean(f['width'] for f in got):.0f}"
            )
    for hours in map(str, AFTER_HOURS):
        off = [e for r in well if (e := r["opening"].get(hours)) is not None]
        if off:
            lines.append(f"100 degC, {hours} h after the end: {len(off)} foretold, {mean(map(abs, off)):.2f} h off"
                         f" (bias {mean(off):+.2f})")  # fmt: skip
    progress = [r["progress"] for r in well if r["progress"] is not None]
    if progress:
        lines.append(f"cone progress off by {mean(progress):.3f} of {len(progress)}")
    for r in results:
        found = "missed" if r in missed else f"{r['delay']:.0f} min{', late' * r['late']}" if r in ill else ""
        if r["false"] or r["wrong"] or r in missed or r in late:
            lines.append(f"  {r['kind']} {r['seed']}: {found} false {r['false']} wrong {r['wrong']} said {r['said']}")
    return lines


def makers() -> str:
    """The hash of the engine and of what makes and judges these firings."""
    found = hashlib.sha256()
    for path in [*sorted((ROOT / "daemon/spyhole").rglob("*.py")), *sorted(HERE.glob("other_*.py")),
                 HERE / "kinds.py", Path(__file__)]:  # fmt: skip
        found.update(path.read_bytes())
    return found.hexdigest()[:16]


def main() -> None:
    words = argparse.ArgumentParser(description="Prove the watch from outside, on kilns of another hand.")
    words.add_argument("--seeds", type=int, nargs=2, default=(1, 3), metavar=("FROM", "TO"), help="both included")
    words.add_argument("--kinds", nargs="+", default=[*HEALTHY, *TROUBLED], choices=(*HEALTHY, *TROUBLED))
    words.add_argument("--seconds", type=int, default=30, choices=(10, 30, 60), help="a reading each so many")
    words.add_argument("--far", action="store_true", help="in kilns far from those that it draws")
    words.add_argument("--out", type=Path, help="default: a file in var/black-box by the hash of engine and makers")
    asked = words.parse_args()
    kept = asked.out or ROOT / "var" / "black-box" / f"{makers()}{'-far' * asked.far}.jsonl"
    kept.parent.mkdir(parents=True, exist_ok=True)
    known: dict[tuple[str, int, int], Result | None] = {}
    for line in kept.read_text().splitlines() if kept.exists() else ():
        key, result = json.loads(line)
        known[tuple(key)] = result
    jobs = [(kind, seed, asked.seconds) for seed in range(asked.seeds[0], asked.seeds[1] + 1) for kind in asked.kinds]
    with kept.open("a") as file:
        for n, job in enumerate(jobs, 1):
            if job not in known:
                known[job] = one(*job, in_far=asked.far)
                file.write(json.dumps([job, known[job]]) + "\n")
                file.flush()
            print(f"\r{n} of {len(jobs)}", end="", file=sys.stderr)
    print(file=sys.stderr)
    results = [r for job in jobs if (r := known[job]) is not None]
    print(f"{len(results)} firings, a reading each {asked.seconds} s; {len(jobs) - len(results)} draws left out")
    print("\n".join(summary(results)))


if __name__ == "__main__":
    main()
