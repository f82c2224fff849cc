"""One firing through the watch, and what came of it against the truth."""

import math
from collections.abc import Iterator
from typing import TypedDict

from family import Case
from hearth import Fired, is_healthy
from kinds import ALONE, TROUBLES, Trouble, family_of

from spyhole.core.journal import Carried, Clock, InReach, Row, Settings, Told, WatchFault, WatchTaken
from spyhole.core.learned import Learned
from spyhole.core.outcome import Action, AlarmOutcome, EstimateOutcome, Forecast, Priority, PromptOutcome
from spyhole.core.watch import begin, step
from spyhole_hardware.emulated.cone import STANDING_AT_60

UTC_START = 1_950_000_000_000
BEFORE = (180, 120, 60, 30)
AFTER = (1, 4, 8)
THRESHOLD_CELSIUS = 30.0
STALE_SECONDS = 300
VISIBLE_LATER_MINUTES = 30.0
ASKS = frozenset({"in-reach", "turn-near"})
BY_FAULT = frozenset({"probe-flickers"})
"""Kinds that come and go as faults of single readings, and show in nothing else."""
RANK = {Priority.LOW: 0, Priority.MEDIUM: 1, Priority.HIGH: 2}


class Forecasted(TypedDict):
    """Minutes: error of the median, width, and whether the truth lay inside; baselines beside it. None: no forecast."""

    error: float | None
    width: float | None
    inside: bool | None
    line: float | None
    last: float | None


class Result(TypedDict):
    """What is kept of one firing.

    said: [minutes, tag, ring, told]. onset, begun: seconds; seen: minutes after onset that probes show it, None never
    within its time, or in no reading that the watch is told. delay: minutes from onset to the first right alarm.
    false: told with nothing wrong (in a troubled firing, before it begins). true: told in a healthy firing, but the
    ware bears it out. wrong: families told that are not the trouble's. asked: questions whether a turn was made.
    known: the watch had seen the kiln before. threshold: minutes from onset (from lighting, when healthy) to the
    baseline's alarm.
    """

    kind: str
    seed: int
    healthy: bool
    said: list[tuple[float, str, str | None, bool]]
    onset: float | None
    begun: float | None
    seen: float | None
    delay: float | None
    late: bool
    false: list[str]
    true: list[str]
    wrong: list[str]
    episodes: int
    repeats: int
    threshold: float | None
    down: dict[str, Forecasted]
    trip: dict[str, Forecasted]
    opening: dict[str, float | None]
    opening_last: float | None
    progress: float | None
    logs: str
    probes: int
    asked: int
    known: bool


def rows(case: Case, fired: Fired, every: int, learned: Learned | None = None) -> Iterator[tuple[float, str, Told]]:
    """What the watch is told, in order: seconds, boot, told. A reading each so many seconds, others as they happen.

    learned: what earlier firings taught, None where the watch begins with this one.
    """
    restart = 0.55 * (fired.off or 1e9) if case.kind == "restart" else 0.0
    utc_jump = 3 * 3600_000 if case.kind == "clock-step" else 0
    yield 0.0, "a", Clock(UTC_START, True)
    if learned is not None:
        yield 0.0, "a", Carried(Settings(case.kiln, case.plan), None, (), (), WatchTaken("Wren"), 0, None, learned)
    yield 0.0, "a", Settings(case.kiln, case.plan)
    yield 0.0, "a", WatchTaken("Wren")
    told: list[tuple[float, Told]] = [(at, entry) for at, entry in fired.entries]
    told += [(at, WatchFault(tag, holds)) for at, tag, holds in fired.faults]
    told.sort(key=lambda one: one[0])
    following = 0
    boot, ticks = "a", 0
    for t, reading in fired.readings(every):
        while following < len(told) and told[following][0] <= t:
            yield t, boot, told[following][1]
            following += 1
        if restart and t > restart and boot == "a":
            boot = "b"
            yield t, boot, Clock(UTC_START + int(t * 1000), True)
        if t // 600 > ticks:
            ticks = int(t // 600)
            jump = utc_jump if t < 0.3 * (fired.off or 0) else 0
            yield t, boot, Clock(UTC_START + int(t * 1000) - jump, jump == 0)
        yield t, boot, reading


def watch(
    case: Case, fired: Fired, every: int, learned: Learned | None = None
) -> tuple[list[tuple[float, AlarmOutcome]], list[tuple[float, EstimateOutcome]], int]:
    """What the watch says and estimates, in seconds; and how often it asks whether a turn was made."""
    state, sequence = begin(), 0
    alarms: list[tuple[float, AlarmOutcome]] = []
    estimates: list[tuple[float, EstimateOutcome]] = []
    answer, asked = math.inf, 0
    for t, boot, what in rows(case, fired, every, learned):
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
                elif isinstance(outcome, PromptOutcome) and outcome.tag in ASKS and case.kind != "nobody-near":
                    answer = t + 120
                elif isinstance(outcome, PromptOutcome) and outcome.tag == "turn-doubted":
                    asked += 1
    return alarms, estimates, asked


def judge(
    case: Case,
    fired: Fired,
    alarms: list[tuple[float, AlarmOutcome]],
    estimates: list[tuple[float, EstimateOutcome]],
    asked: int,
    every: int,
    known: bool = False,
) -> Result:
    """All that is said of one firing against the truth. Low priority counts as a find, never as a false alarm.

    known: whether the watch had seen this kiln before.
    """
    raised = [(t, a) for t, a in alarms if a.action is Action.RAISE]
    trouble, onset = TROUBLES.get(case.kind), fired.onset
    begun = fired.begun if fired.begun is not None else onset
    false: list[str] = []
    true: list[str] = []
    wrong: list[tuple[str, str]] = []
    delay: float | None = None
    told: dict[tuple[str, str | None], int] = {}
    repeats = 0
    for t, a in raised:
        after = trouble is not None and begun is not None and t >= begun - 60
        if after and onset is not None and delay is None and _right(case, fired, a):
            # What leads to it may already be called by its name.
            delay = max(0.0, (t - onset) / 60)
        if not a.tell:
            continue
        if after and trouble is not None:
            rank = RANK[a.priority]
            repeats += told.get((a.tag, a.ring), -1) >= rank
            told[a.tag, a.ring] = max(rank, told.get((a.tag, a.ring), -1))
            if not _right(case, fired, a) and not _consequence(case, fired, trouble, a):
                wrong.append((a.episode, family_of(a.tag)))
        elif a.priority is not Priority.LOW:
            borne_out = (a.tag == "guard-cone" and fired.guard_rise >= 25) or (
                a.tag == "damp-hurry" and fired.hurried > 0 and trouble is None)  # fmt: skip
            (true if borne_out else false).append(a.tag)
    late, seen = False, _seen(case, fired, every)
    if delay is not None and trouble is not None:
        late = delay > max(trouble.minutes, (seen or 0.0) + VISIBLE_LATER_MINUTES)
    return Result(
        kind=case.kind, seed=case.seed, healthy=is_healthy(case.kind), onset=onset, begun=begun, seen=seen,
        said=[(round(t / 60, 1), a.tag, a.ring, a.tell) for t, a in raised], delay=delay, late=late,
        false=false, true=true, wrong=[family for _, family in dict.fromkeys(wrong)],
        episodes=len({a.episode for t, a in raised if a.tell and begun is not None and t >= begun - 60}),
        repeats=repeats, threshold=_threshold(case, fired, every),
        down=_forecasts(case, fired, [(t, e.cone_down) for t, e in estimates], fired.cone_down),
        trip=_forecasts(case, fired, [(t, e.shut_off) for t, e in estimates], fired.off),
        opening=_openings(case, fired, estimates), opening_last=None,
        progress=_progress(case, fired, estimates), logs=case.logs, probes=len(case.kiln.probe_rings),
        asked=asked, known=known,
    )  # fmt: skip


def _seen(case: Case, fired: Fired, every: int) -> float | None:
    """`Fired.seen` at this cadence: a wire that breaks only between two readings is told to nobody, and None."""
    if case.kind in BY_FAULT and fired.onset is not None:
        since = fired.onset
        told = (p.fault for t, reading in fired.readings(every) if t >= since for p in reading.probes)
        return fired.seen if any(fault is not None for fault in told) else None
    return fired.seen


def _where(case: Case, fired: Fired, trouble: Trouble, ring: str | None) -> bool:
    """Whether an alarm that names this ring names a place where the trouble is."""
    rings = case.kiln.rings
    if ring is None or not trouble.where:
        return True
    if trouble.where == "ends":
        return ring in (rings[case.kiln.probe_rings[0]].name, rings[case.kiln.probe_rings[-1]].name)
    return ring == fired.sick


def _right(case: Case, fired: Fired, a: AlarmOutcome) -> bool:
    trouble = TROUBLES[case.kind]
    alone = len(case.kiln.probe_rings) == 1 and a.tag in ALONE.get(case.kind, ())
    return (alone or a.tag in trouble.accepted) and _where(case, fired, trouble, a.ring)


def _consequence(case: Case, fired: Fired, trouble: Trouble, a: AlarmOutcome) -> bool:
    here = trouble.where not in ("sick", "ends") or family_of(a.tag) != "probe" or _where(case, fired, trouble, a.ring)
    return a.tag in trouble.also and here


def chart_celsius(case: Case) -> float:
    """degC of the firing cone by the chart, at 60 degC/h."""
    return STANDING_AT_60[case.plan.cone]


def _threshold(case: Case, fired: Fired, every: int) -> float | None:
    """The baseline: three readings over cone and 30 degC, or a sensor stale for five minutes.

    Minutes from the onset, if not before it, or from the start when healthy; None: it says nothing, or spoke before.
    """
    limit, over = chart_celsius(case) + THRESHOLD_CELSIUS, 0
    good: list[float] = [0.0] * len(fired.steps)
    since = fired.onset or 0.0
    for t, reading in fired.readings(every):
        over = over + 1 if any((p.celsius or 0) > limit for p in reading.probes) else 0
        good = [t if p.celsius is not None else at for p, at in zip(reading.probes, good, strict=True)]
        if over >= 3 or t - min(good) > STALE_SECONDS:
            return (t - since) / 60 if t >= since - 60 else None
    return None


def _nearest(of: list[tuple[float, Forecast | None]], t: float) -> Forecast | None:
    before = [f for at, f in of if t - 120 < at <= t]
    return before[-1] if before else None


def _forecasts(
    case: Case, fired: Fired, of: list[tuple[float, Forecast | None]], truth: float | None
) -> dict[str, Forecasted]:
    """Of an instant, so many minutes before it; in healthy firings that went there by heating."""
    found: dict[str, Forecasted] = {}
    if truth is None or not is_healthy(case.kind) or (fired.off is not None and truth > fired.off):
        return found
    utc = UTC_START + truth * 1000
    middle = case.kiln.probe_nearest(case.plan.reference_ring)
    start = next((t for t, _ in fired.entries), 120.0)
    seen = [(t, r.probes[middle].celsius) for t, r in fired.readings(30) if truth - 13_000 < t <= truth]
    for minutes in BEFORE:
        t = truth - minutes * 60
        f = _nearest(of, t)
        known = [(at, c) for at, c in seen if c is not None and t - 1800 <= at <= t]
        line = None
        if len(known) > 2 and known[-1][1] > known[0][1] + 5:
            (t0, c0), (t1, c1) = known[0], known[-1]
            line = (t1 + (chart_celsius(case) - c1) * (t1 - t0) / (c1 - c0) - truth) / 60
        found[str(minutes)] = Forecasted(
            error=None if f is None else (f.median - utc) / 60_000,
            width=None if f is None else (f.high - f.low) / 60_000,
            inside=None if f is None else f.low <= utc <= f.high,
            line=line,
            last=None if not case.last_hours else case.last_hours * 60 + (start - 120 - truth) / 60,
        )
    return found


def _openings(case: Case, fired: Fired, estimates: list[tuple[float, EstimateOutcome]]) -> dict[str, float | None]:
    """Hours that the 100 degC forecast (hottest ware of any ring) is off, so long after the switches went off."""
    found: dict[str, float | None] = {}
    if fired.off is None or fired.open_100 is None or not is_healthy(case.kind):
        return found
    for hours in AFTER:
        f = _nearest([(t, dict(e.cool).get(100)) for t, e in estimates], fired.off + hours * 3600)
        found[str(hours)] = None if f is None else (f.median - UTC_START) / 3_600_000 - fired.open_100 / 3600
    return found


def _progress(case: Case, fired: Fired, estimates: list[tuple[float, EstimateOutcome]]) -> float | None:
    """Mean absolute error of the firing cone's heat work while it goes from 0.05 to 1, healthy firings."""
    if not is_healthy(case.kind):
        return None
    truth = dict(fired.work)
    pairs = [
        (truth[w], e.cone_progress)
        for t, e in estimates
        if (w := t // 600 * 600.0) in truth and e.cone_progress is not None and 0.05 < truth[w] < 1 and t - w < 60
    ]
    return sum(abs(a - min(b, 1.5)) for a, b in pairs) / len(pairs) if pairs else None
