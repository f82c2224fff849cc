"""Whatever the wall clock does: the same alarms at the same instants of the kiln, and in the end the right time.

Puffin's firings go through the watchkeeper into a real record, by the Clock port: the monotonic clock is the kiln's,
the wall clock is what each scenario makes of it (fault 7 of the catalogue, and fault 13: spikes and noise).
"""

import random
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from itertools import count, pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from spyhole.app.codec import codec
from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.journal import Clock, Row
from spyhole.core.moment import Moment
from spyhole.core.outcome import Action, AlarmOutcome, Forecast, PromptOutcome
from spyhole.core.reading import ProbeReading, Reading, to_chip_step
from spyhole.core.words import Manner
from spyhole.services.conditions import Conditions
from spyhole.services.desk import Curve, FiringSummary
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import SqlArchive, open_archive
from spyhole_hardware.emulated.firing import fire
from spyhole_hardware.emulated.puffin import BUILD, KILN, TONIGHT
from spyhole_hardware.emulated.rehearsal import Rehearsal

LIT_UTC_MS = 1_951_155_600_000
"""2031-10-30T19:40:00Z."""

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
BOOTED_MS = 40_000
"""The kiln is lit so long after the machine was started."""

CLOCK = "watch-clock"

LOGGED_MS = 2 * MINUTE_MS
"""And that the kiln is lit is logged so long after."""

Wall = Callable[[int, int], tuple[int, bool]]
"""wall(true utc_ms, monotonic_ms): what the wall clock shows, and whether it has been set."""


@dataclass(frozen=True)
class Tick:
    """What happens at one instant of the kiln's."""

    monotonic_ms: int
    notes: tuple[tuple[str, str, str], ...]
    reading: Reading


@cache
def ticks(trouble: str) -> tuple[Tick, ...]:
    """Puffin's firing, sampled each half minute."""
    notes: list[tuple[str, str, str]] = []
    rehearsal = Rehearsal(
        KILN, BUILD, TONIGHT, start_utc_ms=LIT_UTC_MS, trouble=trouble, log=lambda *note: notes.append(note)
    )
    made = []
    for moment, reading in fire(rehearsal, 30):
        # The amplifier's cold junction has a step of its own.
        probes = (
            replace(p, cold_junction_celsius=p.cold_junction_celsius and round(p.cold_junction_celsius * 64) / 64)
            for p in reading.probes
        )
        made.append(Tick(moment.monotonic_ms + BOOTED_MS, tuple(notes), Reading(tuple(probes))))
        notes.clear()
    return tuple(made)


@dataclass
class KilnClock:
    """The monotonic clock is true; the wall clock is the scenario's."""

    wall: Wall
    lit_utc_ms: int
    monotonic_ms: int = BOOTED_MS

    def now(self) -> Moment:
        utc_ms, synchronised = self.wall(self.lit_utc_ms + self.monotonic_ms - BOOTED_MS, self.monotonic_ms)
        return Moment("boot-1", self.monotonic_ms, utc_ms, synchronised)

    def wait_until(self, monotonic_ms: int) -> None:
        self.monotonic_ms = max(self.monotonic_ms, monotonic_ms)


Spoil = Callable[[int, Reading], Reading]


def unspoilt(_monotonic_ms: int, reading: Reading) -> Reading:
    return reading


@dataclass(frozen=True)
class Watched:
    """A firing as it was watched. alarms, prompts: (monotonic_ms, what) of each about the kiln, in order. shown: see
    `shown`. doubted: whether the clock itself was an alarm.
    """

    alarms: list[tuple[int, str, str]]
    prompts: list[tuple[int, str]]
    rows: list[Row]
    line: FiringSummary
    shown: dict[str, object]
    curve_utc_ms: list[int]
    doubted: bool


Watch = Callable[..., Watched]


@pytest.fixture
def watch(tmp_path: Path) -> Watch:
    """`watch(trouble, wall, until_ms=None)`: Puffin's firing with that trouble under that wall clock."""
    folders = count(1)

    def run(
        trouble: str, wall: Wall, *, lit_utc_ms: int = LIT_UTC_MS, until_ms: int | None = None, spoil: Spoil = unspoilt
    ) -> Watched:
        clock = KilnClock(wall, lit_utc_ms)
        archive = open_archive(tmp_path / str(next(folders)), seconds=time.monotonic, tell=lambda code, words: None)
        try:
            plan, manner = TONIGHT.plan, Manner(ZoneInfo("Europe/Dublin"), "degC")
            studio = Studio(KILN, plan, kiln_to_toml(KILN), plan_to_toml(plan, KILN), manner, 30.0)
            conditions = Conditions(lambda: clock.now().utc_ms)
            keeper = Watchkeeper(studio, clock, archive, Telling([]), conditions, codec(), checkpoints=False)
            keeper.recover()
            for tick in ticks(trouble):
                if until_ms is not None and tick.monotonic_ms > until_ms:
                    break
                clock.wait_until(tick.monotonic_ms)
                for kind, subject, value in tick.notes:
                    keeper.enter(kind, subject, value, "Ada")
                keeper.take(spoil(tick.monotonic_ms, tick.reading))
            assert archive.flush(30)
            return watched(keeper, archive)
        finally:
            archive.close(30)

    return run


def watched(keeper: Watchkeeper, archive: SqlArchive) -> Watched:
    rows = list(archive.rows_after(KILN.name, 0))
    at = {row.sequence: row.monotonic_ms for row in rows}
    outcomes = list(archive.outcomes_between(KILN.name, 1, len(rows)))
    (line,) = keeper.firings()
    curve = keeper.curve(line.id, 100_000)
    assert curve is not None
    return Watched(
        [(at[n], o.tag, o.action) for n, o in outcomes if isinstance(o, AlarmOutcome) and o.tag != CLOCK],
        [(at[n], o.tag) for n, o in outcomes if isinstance(o, PromptOutcome)],
        rows,
        line,
        shown(keeper, archive, curve),
        curve.utc_ms,
        any(isinstance(o, AlarmOutcome) and o.tag == CLOCK for _, o in outcomes),
    )


def shown(keeper: Watchkeeper, archive: SqlArchive, curve: Curve) -> dict[str, object]:
    """All instants that a person is shown, in snapshot, kiln book, curve and marks; but what is said of the clock."""
    now = keeper.now()
    (line,) = keeper.firings()
    (kept,) = archive.firings(KILN.name)
    return {
        "book": (line.started_utc_ms, line.ended_utc_ms, line.tripped_utc_ms),
        "record": (kept.started_utc_ms, kept.ended_utc_ms, kept.tripped_utc_ms),
        "curve": (curve.utc_ms[0], curve.utc_ms[-1], len(curve.utc_ms)),
        "marks": [(mark.utc_ms, mark.kind) for mark in curve.marks if "clock" not in mark.words],
        "now": now.now_utc_ms,
        "firing": now.firing and now.firing.started_utc_ms,
        "entries": [entry.utc_ms for entry in now.entries],
        "alarms": [(alarm.tag, alarm.since_utc_ms) for alarm in now.alarms if alarm.tag != CLOCK],
        "rings": [ring.seen_utc_ms for ring in now.rings],
        "forecasts": (now.cone_down, now.shut_off, now.cool),
    }


def right(utc_ms: int, _monotonic_ms: int) -> tuple[int, bool]:
    return utc_ms, True


def stepped(by_ms: int, at_ms: int) -> Wall:
    """Set right at first; steps, and stays there."""
    return lambda utc_ms, monotonic_ms: (utc_ms + (by_ms if monotonic_ms >= at_ms else 0), True)


def to_and_fro(utc_ms: int, monotonic_ms: int) -> tuple[int, bool]:
    """An hour forward, then two back, then right again, every 100 minutes."""
    return utc_ms + (0, HOUR_MS, -HOUR_MS)[monotonic_ms // (100 * MINUTE_MS) % 3], True


def no_clock_until(at_ms: int) -> Wall:
    """A Pi without a battery: 1970 until the network answers. Its minutes, and each fifth, begin as the true ones do,
    so that the watch, which judges climbs each minute and its model each fifth, does so at the same readings."""
    return lambda utc_ms, monotonic_ms: (utc_ms, True) if monotonic_ms >= at_ms else (monotonic_ms + 260_000, False)


def leap(utc_ms: int, monotonic_ms: int) -> tuple[int, bool]:
    """The kernel shows one second twice, as it does at a leap second: clock_settime(2), POSIX.1."""
    return utc_ms - (1000 if monotonic_ms >= 5 * HOUR_MS else 0), True


WALLS: dict[str, Wall] = {
    "an hour forward, two back, an hour forward": to_and_fro,
    "no clock until the high stage": no_clock_until(15 * HOUR_MS),
    "no clock at all": no_clock_until(1000 * HOUR_MS),
    "a leap second": leap,
}


@pytest.fixture(scope="module")
def truths() -> dict[str, Watched]:
    """What was watched under a right clock, by trouble: made once."""
    return {}


@pytest.fixture
def truth(watch: Watch, truths: dict[str, Watched]) -> Callable[[str], Watched]:
    def of(trouble: str) -> Watched:
        return truths.get(trouble) or truths.setdefault(trouble, watch(trouble, right))

    return of


def ordered(watched: Watched) -> None:
    assert [row.sequence for row in watched.rows] == list(range(1, len(watched.rows) + 1))
    assert all(a.monotonic_ms <= b.monotonic_ms for a, b in pairwise(watched.rows))
    assert all(a < b for a, b in pairwise(watched.curve_utc_ms)), "the curve runs forward"


@pytest.mark.parametrize("wall", WALLS.values(), ids=WALLS.keys())
@pytest.mark.parametrize("trouble", ["none", "power-cut", "shutoff-jams"])
def test_alarms_come_and_go_as_if_the_clock_were_right(
    watch: Watch, truth: Callable[[str], Watched], trouble: str, wall: Wall
) -> None:
    under = watch(trouble, wall)
    assert under.alarms == truth(trouble).alarms, "none false, none late, none missed"
    assert under.prompts == truth(trouble).prompts
    assert bool(under.alarms) == (trouble != "none")
    assert under.doubted == (wall is not leap), "and that the clock is not to be trusted is said"
    ordered(under)


@pytest.mark.parametrize("step", [HOUR_MS, -HOUR_MS])
def test_a_step_is_written_down_once_and_shown_on_all_of_the_firing(watch: Watch, step: int) -> None:
    watched = watch("none", stepped(step, 5 * HOUR_MS), until_ms=6 * HOUR_MS)
    clocks = [row.told for row in watched.rows if isinstance(row.told, Clock)]
    assert len(clocks) == pytest.approx(6 * 6 + 1, abs=2)
    assert watched.line.started_utc_ms == LIT_UTC_MS + LOGGED_MS + step


def test_a_firing_begun_in_1970_is_shown_right_everywhere_once_the_network_answers(
    watch: Watch, truth: Callable[[str], Watched]
) -> None:
    known_ms = 15 * HOUR_MS
    before = watch("shutoff-jams", no_clock_until(known_ms), until_ms=known_ms - MINUTE_MS)
    assert before.line.started_utc_ms < 48 * HOUR_MS, "visibly wrong, never hidden"
    after = watch("shutoff-jams", no_clock_until(known_ms))
    assert after.rows[: len(before.rows)] == before.rows, "rows are never rewritten"
    assert after.shown == truth("shutoff-jams").shown


@pytest.mark.parametrize("minutes_after", [1, 0])
def test_the_moment_the_clock_is_known_nothing_shown_is_of_1970(watch: Watch, minutes_after: int) -> None:
    """While the firing goes on, and at the very reading the clock row comes with."""
    known_ms = 15 * HOUR_MS + BOOTED_MS
    until_ms = known_ms + minutes_after * MINUTE_MS
    truth = watch("shutoff-jams", right, until_ms=until_ms)
    watched = watch("shutoff-jams", no_clock_until(known_ms), until_ms=until_ms)
    assert others(watched.shown) == others(truth.shown)
    for found, wanted in zip(flat(watched.shown["forecasts"]), flat(truth.shown["forecasts"]), strict=True):
        assert abs(found - wanted) < MINUTE_MS, "a forecast may be some seconds another: it is counted in steps"


def others(shown: dict[str, object]) -> dict[str, object]:
    return {name: what for name, what in shown.items() if name != "forecasts"}


def flat(forecasts: object) -> list[int]:
    """The instants in these forecasts, however nested."""
    if isinstance(forecasts, Forecast):
        return [forecasts.low, forecasts.median, forecasts.high]
    return [at for one in forecasts for at in flat(one)] if isinstance(forecasts, tuple) else []


@pytest.mark.parametrize(
    ("lit", "hours"),
    [(1_950_720_000_000, -1), (1_932_576_000_000, 1)],
    ids=["an hour comes twice, 2031-10-26", "an hour is missing, 2031-03-30"],
)
def test_daylight_saving_changes_what_is_said_and_nothing_else(
    watch: Watch, truth: Callable[[str], Watched], lit: int, hours: int
) -> None:
    """Lit the evening before, at 18:40 UTC, in Europe/Dublin by the IANA time zone database."""
    night = watch("shutoff-jams", right, lit_utc_ms=lit)
    assert night.alarms == truth("shutoff-jams").alarms
    assert night.prompts == truth("shutoff-jams").prompts
    assert night.line.started_utc_ms == lit + LOGGED_MS
    manner = Manner(ZoneInfo("Europe/Dublin"), "degC")
    shift = int(manner.clock(lit + 24 * HOUR_MS)[:2]) - int(manner.clock(lit)[:2])
    assert shift == hours, "the clock on the wall of the room has been turned"
    ordered(night)


def test_one_spike_raises_nothing(watch: Watch) -> None:
    """Fault 13: one reading 400 degC too high on one probe, in each stage."""
    spikes = {n * HOUR_MS + BOOTED_MS for n in (2, 11, 13, 15)}

    def spoil(at_ms: int, reading: Reading) -> Reading:
        if at_ms not in spikes:
            return reading
        first, *others = reading.probes
        assert first.celsius is not None
        return Reading((replace(first, celsius=first.celsius + 400.0), *others))

    watched = watch("none", right, spoil=spoil)
    spoiled = [row for row in watched.rows if isinstance(row.told, Reading) and row.monotonic_ms in spikes]
    assert len(spoiled) == len(spikes)
    assert watched.alarms == []


def test_noise_at_the_edge_of_a_limit_raises_at_most_one_in_ten_minutes(watch: Watch) -> None:
    """Fault 13: two hours with the hottest ring on the kiln's own limit, give or take 4 degC (seed 13)."""
    chance = random.Random(13)
    hot_ms = 13 * HOUR_MS

    def spoil(at_ms: int, reading: Reading) -> Reading:
        if at_ms < hot_ms:
            return reading
        # As fast as a kiln can: it must be a climb that the watch believes.
        share = min(1.0, (at_ms - hot_ms) / (2 * HOUR_MS))
        probes = []
        for probe in reading.probes:
            assert probe.celsius is not None
            edge = probe.celsius + share * (KILN.maximum_celsius - probe.celsius)
            probes.append(ProbeReading(to_chip_step(edge + chance.gauss(0, 4)), None, probe.cold_junction_celsius))
        return Reading(tuple(probes))

    watched = watch("shutoff-jams", right, spoil=spoil, until_ms=17 * HOUR_MS)
    raised = [at for at, tag, action in watched.alarms if tag == "kiln-limit" and action == Action.RAISE]
    assert raised, "it is at the limit"
    assert all(b - a >= 10 * MINUTE_MS for a, b in pairwise(raised))
