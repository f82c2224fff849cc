"""A firing of the other hand as the four files of `spyhole replay`, and the truth beside them."""

import csv
import datetime as dt
import json
import random
from math import exp
from pathlib import Path
from typing import TypedDict

from other_hand import (
    COOLING_CELSIUS_PER_HOUR,
    COOLING_FROM,
    COOLING_TO,
    HOUR,
    OF_A_PROBE,
    RINGS,
    SPREAD_CELSIUS,
    Case,
    Fired,
    Upset,
    end_celsius,
)
from other_keeper import firing

LIT_ON = dt.datetime(2031, 3, 3, 18, tzinfo=dt.UTC)
SEEN_CELSIUS = 6.0
RATINGS = (1260, 1300, 1320, 1350)
"""degC; common practice, no source."""
TAU_OUT_SECONDS, TAU_SLIP_SECONDS = 90.0, 120.0
DRIFTS_HOURS = 5.0
"""A probe drifts so long, then stays off."""
NOISE_CELSIUS, NOISE_SHARE = 25.0, 0.6


class Truth(TypedDict):
    """Seconds since the record began, None for never.

    onset: when the trouble begins, None in a healthy firing; begun: when what leads to it begins. seen: until
    a probe differs by 6 degC from the same firing without the trouble, None where it never does. end: of heating. work:
    seconds and the firing cone's heat work.
    """

    kind: str
    seed: int
    ring: str
    onset: float | None
    begun: float | None
    seen: float | None
    down: float | None
    end: float | None
    open_100: float | None
    hurried: bool
    guard: float
    logs: str
    known: bool
    work: list[tuple[float, float]]


def iso(t: float) -> str:
    """Seconds of the record as UTC."""
    return (LIT_ON + dt.timedelta(seconds=round(t))).strftime("%Y-%m-%dT%H:%M:%SZ")


def seconds_of(utc: str) -> float:
    """UTC as seconds of the record."""
    return (dt.datetime.fromisoformat(utc) - LIT_ON).total_seconds()


def write(kind: str, seed: int, folder: Path, seconds: int, *, in_far: bool = False) -> Truth | None:
    """Write kiln.toml, plan.toml, readings.csv and entries.csv, a reading each so many seconds (a multiple of 10).

    in_far: of one of the kilns of `other_far`.

    None: this draw is left out.
    """
    made = firing(kind, seed, in_far=in_far)
    if made is None:
        return None
    case, fired, twin, before, wrong = made
    d = random.Random(f"other hand, written {kind} {seed}")
    probes = d.choice(([0, 1], [1, 2])) if kind == "two-probes" else [0, 1, 2]
    known = d.random() < 0.65 and before.trip is not None
    logs = {"nothing-logged": "none", "logged-late": "late"}.get(kind, d.choice(("all", "all", "some")))
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "kiln.toml").write_text(_kiln(case, probes, d))
    (folder / "plan.toml").write_text(_plan(case, probes, twin, before if known else None))
    with (folder / "readings.csv").open("w", newline="") as file:
        readings = csv.writer(file, lineterminator="\n")
        names = [RINGS[i] for i in probes]
        readings.writerow(["time", *names, *(f"{name}_fault" for name in names)])
        readings.writerows(_readings(case, fired, wrong, probes, seconds, d))
    with (folder / "entries.csv").open("w", newline="") as file:
        entries = csv.writer(file, lineterminator="\n")
        entries.writerow(["time", "kind", "subject", "value"])
        entries.writerows((iso(t), *rest) for t, *rest in _entries(case, fired, logs, d))
    return Truth(
        kind=kind, seed=seed, ring=RINGS[wrong.ring], onset=fired.onset, begun=fired.begun or fired.onset,
        seen=_seen(fired, twin, kind), down=fired.down, end=fired.off, open_100=fired.open_100,
        hurried=fired.hurried, guard=fired.guard, logs=logs, known=known,
        work=[(t, work) for (t, _), work in list(zip(fired.tips, fired.work, strict=True))[::60]],
    )  # fmt: skip


def _seen(fired: Fired, twin: Fired, kind: str) -> float | None:
    if fired.onset is None:
        return None
    if kind in OF_A_PROBE:
        return 0.0
    for (t, tips), (_, others) in zip(fired.tips, twin.tips, strict=False):
        if t >= fired.onset and any(abs(a - b) >= SEEN_CELSIUS for a, b in zip(tips, others, strict=True)):
            return t - fired.onset
    return None


def _words(values: dict[str, str] | dict[str, int]) -> str:
    return "{ " + ", ".join(f"{name} = {json.dumps(value)}" for name, value in values.items()) + " }"


def _kiln(case: Case, probes: list[int], d: random.Random) -> str:
    lines = [
        'name = "Drawn"', f"maximum_celsius = {next(m for m in RATINGS if m > end_celsius(case.cone) + 60)}",
        "mains_volts = 230", "cone_shutoff = true", "timer_stops_in_power_cut = true", "[switch]",
        *(f"{name} = {case.shares[name]:.2f}" for name in ("low", "medium", "high")),
    ]  # fmt: skip
    if d.random() < 0.6:
        lines += ["[chamber]", f"wall_millimetres = {case.build.wall * 1000:.0f}",
                  f"inside_diameter_millimetres = {case.build.diameter * 1000:.0f}",
                  f"ring_height_millimetres = {case.build.ring_height * 1000:.0f}"]  # fmt: skip
    for i, watts in enumerate(case.watts):
        lines += ["[[ring]]", f'name = "{RINGS[i]}"', f"watts = {round(watts * d.uniform(0.94, 1.06), -1):.0f}"]
        if i in probes:
            lines.append('probe = { type = "K", tolerance_class = 2 }')
    return "\n".join(lines) + "\n"


def _plan(case: Case, probes: list[int], twin: Fired, before: Fired | None) -> str:
    falls = max(COOLING_CELSIUS_PER_HOUR, 1.3 * twin.steepest_fall(COOLING_FROM, COOLING_TO))
    lines = [
        'name = "Drawn firing"', f'cone = "{case.cone}"', 'body = "ordinary"', f'shutoff_cone = "{case.cone}"',
        f'ware = "{"bisque" if case.raw else "glaze"}"', 'reference_ring = "middle"', "timer_margin_minutes = 30",
        f"spread = {{ limit_celsius = {SPREAD_CELSIUS:.0f}, above_celsius = 600 }}",
    ]  # fmt: skip
    if case.raw:
        lines.append("damp = { celsius_per_hour = 50, from_celsius = 80, to_celsius = 150 }")
    limit = f"from_celsius = {COOLING_FROM:.0f}, to_celsius = {COOLING_TO:.0f}, celsius_per_hour = {falls:.0f}"
    lines += [
        "[cooling]", "crack_below_celsius = 150", "open_below_celsius = 100", "unload_below_celsius = 50",
        f"limits = [{{ {limit} }}]",
    ]  # fmt: skip
    for n, stage in enumerate(case.stages):
        lines += ["[[stage]]", f'name = "{stage.name}"',
                  f"switches = {_words(dict(zip(RINGS, stage.switches, strict=True)))}", f'plugs = "{stage.plugs}"',
                  f"hours = {round(stage.seconds / HOUR * 4) / 4}" if stage.seconds else 'until = "cone"']  # fmt: skip
        after = n + 1 if n + 1 < len(case.stages) else -1
        turned, next_turn = (before.turned(n), before.turned(after)) if before else (None, None)
        if before and turned is not None and next_turn is not None:
            tips = before.tips_at(next_turn)
            ends = {RINGS[i]: round(tips[i]) for i in probes}
            lines += [f"expected_hours = {(next_turn - turned) / HOUR:.2f}", f"expected_end_celsius = {_words(ends)}"]
    return "\n".join(lines) + "\n"


def _readings(
    case: Case, fired: Fired, wrong: Upset, probes: list[int], seconds: int, d: random.Random
) -> list[list[str]]:
    """A line each so many seconds: time, degC of each probe to the amplifier's sixteenth, faults."""
    lines = []
    stuck: float | None = None
    gone = False
    at_onset = fired.tips_at(wrong.at)[wrong.ring] if wrong.kind in OF_A_PROBE else 0.0
    every = round(seconds / (fired.tips[1][0] - fired.tips[0][0]))
    for t, tips in fired.tips[::every]:
        values: list[str] = []
        faults: list[str] = []
        for i in probes:
            eye = case.eyes[i]
            read = tips[i] * (1 + eye.gain) + eye.offset + d.gauss(0, case.noise)
            if wrong.kind in OF_A_PROBE and i == wrong.ring and t >= wrong.at:
                gone = wrong.kind == "probe-open"
                stuck = read if stuck is None else stuck
                read = _astray(wrong, read, stuck, case.room, at_onset, t - wrong.at, d)
                values.append("" if gone else f"{round(read * 16) / 16}")
                faults.append("open" if gone else "")
            else:
                values.append(f"{round(read * 16) / 16}")
                faults.append("")
        lines.append([iso(t), *values, *faults])
    return lines


def _astray(
    wrong: Upset, read: float, stuck: float, room: float, at_onset: float, after: float, d: random.Random
) -> float:
    """What a probe in trouble reads [degC]. after: seconds since it began; at_onset: what its tip felt then [degC].

    A drift and a slip are shares of what the probe stands above the room, so that they fade as the kiln cools.
    """
    above = (read - room) / max(at_onset - room, 50.0)
    match wrong.kind:
        case "probe-out":
            return room + 6 + (read - room - 6) * exp(-after / TAU_OUT_SECONDS)
        case "probe-stuck":
            return stuck
        case "drift-down" | "drift-up":
            return read + wrong.amount * min(after / HOUR, DRIFTS_HOURS) * above
        case "probe-slipped":
            return read - wrong.amount * (read - room) * (1 - exp(-after / TAU_SLIP_SECONDS))
        case "probe-noisy":
            return max(-40.0, read + (d.gauss(0, NOISE_CELSIUS) if d.random() < NOISE_SHARE else 0.0))
    return read


def _entries(case: Case, fired: Fired, logs: str, d: random.Random) -> list[tuple[float, str, str, str]]:
    """What the keeper writes down: time, kind, subject, value. Of a switch what was meant, not what was done."""
    found = [(case.lit, "start", "", case.cone)]
    switches: tuple[str, ...] = ("off",) * 3
    plugs = ""
    for t, stage, to in fired.turns:
        at = t + (d.uniform(-600, 1500) if logs == "late" else d.uniform(0, 120))
        if stage < 0 and not fired.by_hand:
            if fired.trip is not None and d.random() < 0.7:
                found.append((t + d.uniform(120, 1500), "shutoff", "", "tripped"))
            continue
        if logs == "some" and stage > 0 and d.random() < 0.4:
            continue
        meant = case.stages[stage].switches if stage >= 0 else to
        found += [(at, "switch", RINGS[i], meant[i]) for i in range(3) if meant[i] != switches[i]]
        switches = meant
        if stage >= 0 and case.stages[stage].plugs != plugs:
            plugs = case.stages[stage].plugs
            found.append((at + 10, "plugs", "", plugs))
    found += [(t + 60, "lid", "", to) for to, t in fired.lid.items() if d.random() < 0.8]
    return sorted(one for one in found if logs != "none" or one[1] == "start")
