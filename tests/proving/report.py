"""The score of many firings, as lines a person can read."""

from collections import defaultdict
from collections.abc import Iterable
from statistics import mean, median

from kinds import TROUBLES
from score import AFTER, BEFORE, Forecasted, Result

DRIFTS = ("drift-down", "drift-up")


def interval(hits: int, n: int) -> tuple[float, float]:
    """The 95 % interval of a share, by Wilson's score.

    Source: Journal of the American Statistical Association 22 (1927) 209.
    """
    if n == 0:
        return 0.0, 1.0
    p, z = hits / n, 1.96
    half = z * (p * (1 - p) / n + z * z / 4 / n / n) ** 0.5 / (1 + z * z / n)
    centre = (p + z * z / 2 / n) / (1 + z * z / n)
    return centre - half, centre + half


def high(values: Iterable[float], share: float) -> float:
    """The value below which this share lies."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def _delays(name: str, some: list[Result]) -> str:
    delays = [r["delay"] for r in some if r["delay"] is not None]
    if not delays:
        return f"  delay, {name:24} none found"
    return (f"  delay, {name:24} median {median(delays):5.1f}  mean {mean(delays):5.1f}"
            f"  95th {high(delays, 0.95):5.1f} min  of {len(delays)}")  # fmt: skip


def _share(count: int, n: int) -> str:
    return f"{count} of {n} ({100 * count / max(n, 1):.1f} %)"


def alarms(results: list[Result]) -> list[str]:
    """False, missed, late, wrong, repeats, delays; whole and split by entries and probes."""
    head = (f"  {'':34}{'healthy':>8}{'false':>7}{'each':>7}{'troubled':>10}{'missed':>8}{'late':>6}{'m+l %':>7}"
            f"{'wrong':>7}{'each':>6}{'repeats':>9}{'before':>8}")  # fmt: skip
    lines = [head]
    splits = (
        ("all", results),
        ("two probes or more", [r for r in results if r["probes"] > 1]),
        ("  and with entries", [r for r in results if r["probes"] > 1 and r["logs"] != "none"]),
        ("no entries at all but the start", [r for r in results if r["logs"] == "none"]),
        ("  and two probes or more", [r for r in results if r["logs"] == "none" and r["probes"] > 1]),
        ("one probe", [r for r in results if r["probes"] == 1]),
    )
    for name, some in splits:
        well = [r for r in some if r["healthy"]]
        ill = [r for r in some if not r["healthy"] and r["onset"] is not None and r["seen"] is not None]
        false = sum(len(r["false"]) for r in well)
        missed, late = sum(r["delay"] is None for r in ill), sum(r["late"] for r in ill)
        wrong = sum(len(r["wrong"]) for r in ill)
        lines.append(
            f"  {name:34}{len(well):8}{false:7}{false / max(len(well), 1):7.2f}{len(ill):10}{missed:8}{late:6}"
            f"{100 * (missed + late) / max(len(ill), 1):7.1f}{wrong:7}{wrong / max(len(ill), 1):6.2f}"
            f"{sum(r['repeats'] for r in ill):9}{sum(len(r['false']) for r in ill):8}"
        )
    ill = [r for r in results if not r["healthy"] and r["onset"] is not None and r["seen"] is not None]
    well = [r for r in results if r["healthy"]]
    never = [r for r in results if not r["healthy"] and r["onset"] is None]
    unseen = [r for r in results if not r["healthy"] and r["onset"] is not None and r["seen"] is None]
    lines.append(
        "  wrong: families told once a trouble is there, that neither are its own nor follow from it, and alarms"
    )
    lines.append("  for another ring; before: false alarms before it. Troubles without onset "
                 f"{len(never)}, that no probe shows in time {len(unseen)}: left out.")  # fmt: skip
    if well:
        lines.append(f"  healthy firings with a false alarm: {_share(sum(bool(r['false']) for r in well), len(well))};"
                     f" alarms the ware bears out: {sum(len(r['true']) for r in well)}")  # fmt: skip
    if ill:
        lines.append(_delays("all but drift", [r for r in ill if r["kind"] not in DRIFTS]))
        lines.append(_delays("drift", [r for r in ill if r["kind"] in DRIFTS]))
        told = [r["episodes"] for r in ill]
        lines.append(f"  episodes told a troubled firing: mean {mean(told):.2f}, most {max(told)}")
    return lines


def threshold(results: list[Result]) -> list[str]:
    """The baseline (cone and 30 degC, three readings; sensor stale for five minutes) beside the watch."""
    lines = []
    for name, some in (("all", results), ("one probe", [r for r in results if r["probes"] == 1])):
        well = [r for r in some if r["healthy"]]
        ill = [r for r in some if not r["healthy"] and r["onset"] is not None and r["seen"] is not None]
        found = [r for r in ill if r["threshold"] is not None and r["threshold"] <= TROUBLES[r["kind"]].minutes]
        lost = [r for r in found if r["delay"] is None or r["delay"] > (r["threshold"] or 0) + 10]
        watch = sum(r["delay"] is not None and not r["late"] for r in ill)
        lines.append(
            f"  fixed threshold, {name}: false {sum(r['threshold'] is not None for r in well)} of {len(well)} healthy,"
            f" in time {len(found)} of {len(ill)} (the watch {watch}); found by it, not by the watch"
            f" (10 min or more later): {len(lost)}" + (f" {sorted({r['kind'] for r in lost})}" if lost else "")
        )
    return lines


def asked(results: list[Result]) -> str:
    """How often somebody is asked whether a turn was made."""
    parts = []
    for logs in ("all", "wrong", "none"):
        some = [r for r in results if r["logs"] == logs]
        if some:
            parts.append(f"{logs} {sum(r['asked'] for r in some) / len(some):.2f} of {len(some)}")
    return "  questions about a turn, a firing, by what is written down: " + ", ".join(parts)


def beside_threshold(results: list[Result]) -> list[str]:
    """Kind by kind, for one probe: found in time by the fixed threshold, and by the watch; the rest nobody shows it."""
    lines = ["ONE PROBE, found in time of those that begin (threshold, watch; watch at any time)"]
    for kind in TROUBLES:
        some = [r for r in results if r["kind"] == kind and r["onset"] is not None]
        if some:
            fixed = sum(r["threshold"] is not None and r["threshold"] <= TROUBLES[kind].minutes for r in some)
            own = sum(r["delay"] is not None and r["delay"] <= TROUBLES[kind].minutes for r in some)
            ever = sum(r["delay"] is not None for r in some)
            lines.append(f"  {kind:22}{len(some):3}{fixed:4}{own:4}{ever:4}{'  WORSE' if own < fixed else ''}")
    return lines


def _errors(values: list[float]) -> str:
    return f"{mean(values):6.1f} {median(values):6.1f}" if values else "     -      -"


def forecasts(name: str, found: list[dict[str, Forecasted]]) -> list[str]:
    """Errors, coverage and widths at each horizon, with the baselines."""
    head = f"  {name:22}{'n':>9}   mean median   bias  covered (95 % interval)   width"
    lines = [head + "   line: mean median   last: mean median"]
    pooled = [0, 0]
    for minutes in map(str, BEFORE):
        got = [f[minutes] for f in found if minutes in f]
        own = [(d["error"], d["width"] or 0.0, bool(d["inside"])) for d in got if d["error"] is not None]
        text = f"  {minutes:>4} min before{'':7}{len(own):4}/{len(got):<4}"
        if own:
            inside = sum(i for _, _, i in own)
            pooled = [pooled[0] + inside, pooled[1] + len(own)]
            low, top = interval(inside, len(own))
            text += (f"  {_errors([abs(e) for e, _, _ in own])} {mean(e for e, _, _ in own):+6.1f}"
                     f"  {inside / len(own):5.0%} ({low:.0%}-{top:.0%}){'':9}"
                     f"{median(w for _, w, _ in own):6.0f}")  # fmt: skip
        else:
            text += " " * 50
        line = [abs(d["line"]) for d in got if d["line"] is not None]
        last = [abs(d["last"]) for d in got if d["last"] is not None]
        lines.append(f"{text}       {_errors(line)}        {_errors(last)}")
    if pooled[1]:
        low, top = interval(*pooled)
        lines.append(f"  all horizons: covered {pooled[0] / pooled[1]:.1%} of {pooled[1]}, 95 % interval"
                     f" {low:.1%}-{top:.1%} (four a firing hang together: read it as too narrow)")  # fmt: skip
    return lines


def rest(well: list[Result]) -> list[str]:
    """Opening and cone progress."""
    lines = []
    for hours in map(str, AFTER):
        off = [(abs(v), r["known"]) for r in well if (v := r["opening"].get(hours)) is not None]
        due = sum(hours in r["opening"] for r in well)
        text = f"  100 degC, {hours} h after the end: {len(off)}/{due} foretold"
        for name, some in (
            ("all", [e for e, _ in off]),
            ("fired before", [e for e, known in off if known]),
            ("never", [e for e, known in off if not known]),
        ):
            text += f"; {name} {len(some)}: mean {mean(some):.2f} median {median(some):.2f} h off" if some else ""
        lines.append(text)
    progress = [r["progress"] for r in well if r["progress"] is not None]
    if progress:
        lines.append(f"  cone progress, mean absolute error a firing: mean {mean(progress):.3f} median"
                     f" {median(progress):.3f} 90th {high(progress, 0.9):.3f} of {len(progress)}")  # fmt: skip
    return lines


def kinds(results: list[Result]) -> list[str]:
    """One line a kind."""
    groups: defaultdict[str, list[Result]] = defaultdict(list)
    for r in results:
        groups[r["kind"]].append(r)
    lines = [f"  {'kind':22}{'n':>3}{'found':>7}{'missed':>7}{'late':>5}{'median':>8}{'seen':>6}  false, then wrong"]
    for kind, some in groups.items():
        ill = [r for r in some if r["onset"] is not None and r["seen"] is not None]
        delays = [r["delay"] for r in ill if r["delay"] is not None]
        false = ", ".join(sorted({t for r in some for t in r["false"]}))
        wrong = ", ".join(sorted({t for r in some for t in r["wrong"]}))
        left = len(some) - len(ill) if kind in TROUBLES else 0
        seen = [r["seen"] for r in ill if r["seen"] is not None]
        lines.append(f"  {kind:22}{len(some):3}"
                     + (f"{len(delays):7}{len(ill) - len(delays):7}{sum(r['late'] for r in some):5}" if kind in TROUBLES
                        else " " * 19)
                     + f"{(f'{median(delays):.0f}' if delays else ''):>8}{(f'{median(seen):.0f}' if seen else ''):>6}"
                     f"  {false or '-'}; {wrong or '-'}" + (f"  ({left} left out)" if left else ""))  # fmt: skip
    return lines


def report(results: list[Result]) -> str:
    """The whole."""
    well = [r for r in results if r["healthy"]]
    lines = ["ALARMS", *alarms(results), "", *threshold(results), asked(results), ""]
    lines += ["FORECASTS, healthy firings, minutes"]
    lines += forecasts("cone down", [r["down"] for r in well])
    lines += forecasts("  with entries", [r["down"] for r in well if r["logs"] != "none"])
    lines += forecasts("  without", [r["down"] for r in well if r["logs"] == "none"])
    lines += forecasts("  fired before", [r["down"] for r in well if r["known"]])
    lines += forecasts("  never fired before", [r["down"] for r in well if not r["known"]])
    lines += forecasts("trip or turned off", [r["trip"] for r in well])
    lines += [
        *rest(well),
        "",
        "BY KIND (minutes; seen: until a probe shows 6 degC that it should not)",
        *kinds(results),
    ]
    if all(r["probes"] == 1 for r in results):
        lines += ["", *beside_threshold(results)]
    return "\n".join(lines)
