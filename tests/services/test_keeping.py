"""Minutes are kept while something is warm or fired, and of a cold kiln between firings none."""

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Clock, Row, Settings, Told
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
from spyhole.core.reading import ProbeReading, Reading
from spyhole.services import keeping as fold
from spyhole.services.archive import Minute
from spyhole.services.keeping import WARM_CELSIUS, Keeping

UTC_MS = 1_951_155_600_000


class Fold:
    """One row after another, every ten seconds."""

    def __init__(self, kiln: Kiln, plan: Plan, utc_ms: int = UTC_MS) -> None:
        self.keeping: Keeping = fold.begin()
        self.minutes: list[Minute] = []
        self.over = 0
        self.sequence = 0
        self.tell(Clock(utc_ms, synchronised=True))
        self.tell(Settings(kiln, plan))

    def tell(self, told: Told) -> None:
        self.sequence += 1
        self.keeping, kept = fold.keep(self.keeping, Row("Puffin", self.sequence, "boot", self.sequence * 10_000, told))
        self.minutes += [] if kept.minute is None else [kept.minute]
        self.over += kept.minute_over

    def read(self, count: int, *celsius: float | None) -> None:
        for _ in range(count):
            self.tell(Reading(tuple(ProbeReading(c) for c in celsius)))


def test_a_cold_kiln_without_a_firing_makes_no_minutes_but_they_are_counted(kiln: Kiln, plan: Plan) -> None:
    watched = Fold(kiln, plan)
    watched.read(60, WARM_CELSIUS - 1)
    assert watched.minutes == []
    assert watched.over >= 9, "a checkpoint hangs on it"


def test_a_warm_kiln_without_a_firing_is_kept_by_the_minute(kiln: Kiln, plan: Plan) -> None:
    watched = Fold(kiln, plan)
    watched.read(30, 20.0)
    watched.read(30, 180.0)
    assert 4 <= len(watched.minutes) <= 6
    last = watched.minutes[-1]
    assert (last.firing, last.stage) == (0, "")
    assert [ring and ring.mean_celsius for ring in last.rings] == [None, 180.0, None], "one a ring, from the bottom up"


def test_a_firing_is_kept_from_the_first_minute_however_cold(kiln: Kiln, plan: Plan) -> None:
    watched = Fold(kiln, plan)
    watched.read(12, 18.0)
    watched.tell(Entry(EntryKind.START, "", "06"))
    watched.read(30, 18.0)
    assert 4 <= len(watched.minutes) <= 6
    assert {minute.firing for minute in watched.minutes} == {
        watched.keeping.state.firing and watched.keeping.state.firing.id
    }


def test_lowest_mean_and_highest_are_of_the_minute_alone(kiln: Kiln, plan: Plan) -> None:
    watched = Fold(kiln, plan)
    watched.read(24, 200.0)
    before = len(watched.minutes)
    for celsius in (300.0, 301.0, 305.0, 302.0, 303.0, 301.0):
        watched.read(1, celsius)
    watched.read(12, 200.0)
    rings = [minute.rings[1] for minute in watched.minutes[before:]]
    assert max(ring.highest_celsius for ring in rings if ring) == 305.0
    assert min(ring.lowest_celsius for ring in rings if ring) == 200.0
    assert all(r.lowest_celsius <= r.mean_celsius <= r.highest_celsius for r in rings if r)


def test_a_reading_without_a_number_is_not_in_the_minute(kiln: Kiln, plan: Plan) -> None:
    watched = Fold(kiln, plan)
    watched.read(12, 200.0)
    watched.minutes.clear()
    watched.read(24, None)
    assert len(watched.minutes) <= 1, "a minute in which nothing was believed is a gap"


def test_a_kiln_that_wakes_in_the_first_minute_of_1970_is_watched(kiln: Kiln, plan: Plan) -> None:
    watched = Fold(kiln, plan, utc_ms=3_000)
    watched.read(30, 180.0)
    assert len(watched.minutes) >= 3
