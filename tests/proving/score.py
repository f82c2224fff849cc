"""One firing through the watch, and what came of it against the truth."""

import math
from collections.abc import Iterator
from typing import TypedDict

from family import HEALTHY, TROUBLES, Case, Fired, fire

from spyhole.core.entry import Entry
from spyhole.core.journal import Clock, InReach, Row, Settings, Told, WatchTaken
from spyhole.core.outcome import Action, AlarmOutcome, EstimateOutcome, Priority, PromptOutcome
from spyhole.core.watch import begin, step
from spyhole_hardware.emulated.cone import STANDING_AT_60

UTC_START = 1_950_000_000_000
BEFORE = (180, 120, 60, 30)
AFTER = (1, 4, 8)


class Forecasted(TypedDict):
    """Minutes: error of the median, width, and whether the truth lay inside; baselines beside it. None: no forecast."""

    error: float | None
    width: float | None
    inside: bool | None
    line: float | None
    last: float | None


class Result(TypedDict):
    """What is kept of one firing. delay: minutes from onset to the first accepted alarm. said: [minutes, tag, ring]."""

    kind: str
    seed: int
    healthy: bool
    said: list[tuple[float, str, str | None, bool]]
    onset: float | None
    delay: float | None
    late: bool
    false: list[str]
    wrong: list[str]
    repeats: int
    threshold: bool
    down: dict[str, Forecasted]
    opening: dict[str, float | None]
    progress: float | None
    logs: str
    probes: int


def rows(case: Case, fired: Fired) -> Iterator[tuple[float, str, Told]]:
    """What the watch is told, in order: seconds, boot, told."""
    restart = 0.0
    if case.kind == "restart":
        restart = 0.55 * (fired.off or 1e9)
    utc_jump = 3 * 3600_000 if case.kind == "clock-step" else 0
    yield 0.0, "a", Clock(UTC_START, True)
    yield 0.0, "a", Settings(case.kiln, case.plan)
    yield 0.0, "a", WatchTaken("Wren")
    last: tuple[float, Entry | None] = (1e12, None)
    entries = iter([*fired.entries, last])
    at, entry = next(entries)
    boot, ticks = "a", 0
    for t, reading in fired.readings:
        while entry is not None and at <= t:
            yield t, boot, entry
            at, entry = next(entries)
        if restart and t > restart and boot == "a":
            boot = "b"
            yield t, boot, Clock(UTC_START + int(t * 1000), True)
        if t // 600 > ticks:
            ticks = int(t // 600)
            jump = utc_jump if t < 0.3 * (fired.off or 0) else 0
            yield t, boot, Clock(UTC_START + int(t * 1000) - jump, jump == 0)
        yield t, boot, reading


def prove(kind: str, seed: int, every: int) -> tuple[Result, Fired, list[EstimateOutcome]]:
    """Fire it, watch it, judge it."""
    case, fired = fire(seed, kind, every)
    state, sequence = begin(), 0
    alarms: list[tuple[float, AlarmOutcome]] = []
    estimates: list[tuple[float, EstimateOutcome]] = []
    answer = math.inf
    for t, boot, what in rows(case, fired):
        queue: list[Told] = [what]
        if t >= answer:
            queue.insert(0, InReach("Wren"))
            answer = math.inf
        for row_told in queue:
            sequence += 1
            state, outcomes = step(state, Row("proving", sequence, boot, int(t * 1000) + 60_000, row_told))
            for outcome in outcomes:
                if isinstance(outcome, AlarmOutcome):
                    alarms.append((t, outcome))
                elif isinstance(outcome, EstimateOutcome):
                    estimates.append((t, outcome))
                elif isinstance(outcome, PromptOutcome) and outcome.tag == "in-reach" and kind != "nobody-near":
                    answer = t + 120
    return judge(case, fired, alarms, estimates), fired, [e for _, e in estimates]


def judge(
    case: Case, fired: Fired, alarms: list[tuple[float, AlarmOutcome]], estimates: list[tuple[float, EstimateOutcome]]
) -> Result:
    """False: a told alarm where nothing is wrong (low priority counts not). Wrong: told after onset, not acceptable."""
    raised = [(t, a) for t, a in alarms if a.action is Action.RAISE]
    trouble, onset = TROUBLES.get(case.kind), fired.onset
    false: list[str] = []
    wrong: list[str] = []
    delay: float | None = None
    told: list[str] = []
    for t, a in raised:
        if trouble is not None and onset is not None and t >= onset - 60:
            if a.tag in trouble.accepted:
                delay = (t - onset) / 60 if delay is None else delay
            if a.tell:
                told.append(f"{a.tag} {a.ring}")
            if a.tell and a.tag not in trouble.accepted | trouble.also:
                wrong.append(a.tag)
        elif a.tell and a.priority is not Priority.LOW:
            false.append(a.tag)
    limit = chart_celsius(case) + 30
    over = sum(any((p.celsius or 0) > limit for p in r.probes) for _, r in fired.readings)
    return Result(
        kind=case.kind, seed=case.seed, healthy=case.kind in HEALTHY, onset=onset, delay=delay,
        said=[(round(t / 60, 1), a.tag, a.ring, a.tell) for t, a in raised],
        late=delay is not None and trouble is not None and delay > trouble.minutes,
        false=false, wrong=wrong, repeats=len(told) - len(set(told)), threshold=over > 3,
        down=_downs(case, fired, estimates), opening=_openings(fired, estimates),
        progress=_progress(fired, estimates), logs=case.logs, probes=len(case.kiln.probe_rings),
    )  # fmt: skip


def chart_celsius(case: Case) -> float:
    """degC of the firing cone by the chart."""
    return STANDING_AT_60[case.plan.cone]


def _nearest(estimates: list[tuple[float, EstimateOutcome]], t: float) -> EstimateOutcome | None:
    before = [e for at, e in estimates if t - 120 < at <= t]
    return before[-1] if before else None


def _downs(case: Case, fired: Fired, estimates: list[tuple[float, EstimateOutcome]]) -> dict[str, Forecasted]:
    found: dict[str, Forecasted] = {}
    if fired.cone_down is None or case.kind not in HEALTHY:
        return found
    truth = UTC_START + fired.cone_down * 1000
    middle = case.kiln.probe_rings.index(case.plan.reference_ring)
    start = next((t for t, _ in fired.entries), 120.0)
    for minutes in BEFORE:
        t = fired.cone_down - minutes * 60
        e = _nearest(estimates, t)
        f = e.cone_down if e is not None else None
        seen = [(at, r.probes[middle].celsius) for at, r in fired.readings if t - 1800 <= at <= t]
        line = None
        known = [(at, c) for at, c in seen if c is not None]
        if len(known) > 2:
            (t0, c0), (t1, c1) = known[0], known[-1]
            line = (
                (t1 + (chart_celsius(case) - c1) * (t1 - t0) / (c1 - c0) - fired.cone_down) / 60
                if c1 > c0 + 5
                else None
            )
        found[str(minutes)] = Forecasted(
            error=None if f is None else (f.median - truth) / 60_000,
            width=None if f is None else (f.high - f.low) / 60_000,
            inside=None if f is None else f.low <= truth <= f.high,
            line=line,
            last=None if case.last_hours is None else case.last_hours * 60 + (start - 120 - fired.cone_down) / 60,
        )
    return found


def _openings(fired: Fired, estimates: list[tuple[float, EstimateOutcome]]) -> dict[str, float | None]:
    """Hours that the 100 degC forecast (hottest ware of any ring) is off, so long after the switches went off."""
    found: dict[str, float | None] = {}
    if fired.off is None or fired.open_100 is None:
        return found
    for hours in AFTER:
        e = _nearest(estimates, fired.off + hours * 3600)
        f = dict(e.cool).get(100) if e is not None else None
        found[str(hours)] = None if f is None else (f.median - UTC_START) / 3_600_000 - fired.open_100 / 3600
    return found


def _progress(fired: Fired, estimates: list[tuple[float, EstimateOutcome]]) -> float | None:
    truth = dict(fired.work)
    pairs = [
        (truth[w], e.cone_progress)
        for t, e in estimates
        if (w := t // 600 * 600.0) in truth and e.cone_progress is not None and 0.05 < truth[w] < 1 and t - w < 60
    ]
    return sum(abs(a - b) for a, b in pairs) / len(pairs) if pairs else None
