"""Minutes are kept while something is warm or fired, and of a cold kiln between firings none."""

from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Clock, Row, Settings, Told
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.plan import Plan, Stage
from spyhole.core.reading import Fault, ProbeReading, Reading
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


celsius = st.none() | st.floats(0, 1200).map(lambda c: round(c * 128) / 128)
reading = st.lists(celsius, min_size=3, max_size=3).map(
    lambda column: Reading(tuple(ProbeReading(c, Fault.OPEN if c is None else None, 20.0) for c in column))
)
told = st.one_of(
    *(reading for _ in range(12)),
    st.lists(celsius, min_size=2, max_size=2).map(lambda column: Reading(tuple(map(ProbeReading, column)))),
    st.just(Entry(EntryKind.START, "", "05")),
    st.just(Entry(EntryKind.SHUTOFF, "", "tripped")),
    st.just(Clock(UTC_MS + 5_000_000, synchronised=True)),
)
apart_ms = st.sampled_from([500, 1_000, 1_000, 1_000, 2_000, 5_000, 9_999, 10_000, 59_999, 60_000, 181_000])
boots = st.sampled_from(["boot", *["same"] * 60])


@given(st.lists(st.tuples(told, apart_ms, boots), max_size=150))
def test_rows_taken_together_are_the_same_rows_one_by_one(rows: list[tuple[Told, int, str]]) -> None:
    kiln = Kiln("Puffin", 1290.0, tuple(Ring(name, 3000.0, Probe()) for name in ("bottom", "middle", "top")))
    stages = (Stage("high", (Switch.HIGH,) * 3, until_cone=True),)
    watched = Fold(kiln, Plan("Bisque", "05", stages, reference_ring=1, shutoff_cone="05"))
    one_by_one = together = watched.keeping
    waiting: list[Row] = []
    boot, at_ms = 0, watched.sequence * 10_000
    for number, (what, passed_ms, restarts) in enumerate(rows):
        boot += restarts == "boot"
        at_ms += passed_ms
        row = Row("Puffin", watched.sequence + 1 + number, f"boot {boot}" if boot else "boot", at_ms, what)
        one_by_one, _ = fold.keep(one_by_one, row)
        if fold.joins(together, row):
            waiting.append(row)
            continue
        if waiting:
            together = fold.join(together, waiting)
            waiting = []
        together, _ = fold.keep(together, row)
        assert together == one_by_one
    assert (fold.join(together, waiting) if waiting else together) == one_by_one


def test_most_readings_of_a_second_are_taken_together(kiln: Kiln, plan: Plan) -> None:
    watched = Fold(kiln, plan)
    watched.read(2, 300.0)
    seconds = [watched.sequence * 10_000 + n * 1_000 for n in range(1, 10)]
    rows = [Row("Puffin", 100 + ms, "boot", ms, Reading((ProbeReading(300.0),))) for ms in seconds]
    assert all(fold.joins(watched.keeping, row) for row in rows)
