"""The clock and the amplifier box are looked at with each tick, on simulated time."""

from spyhole.core.moment import Moment
from spyhole.core.reading import ProbeReading, Reading
from spyhole.services.conditions import Conditions
from spyhole.services.oversight import BusOversight, Oversight

MINUTE = 60_000
UTC = 1_951_155_600_000


class Watched:
    """A watch that ticks once a second."""

    def __init__(self) -> None:
        self.conditions = Conditions(lambda: UTC)
        self.oversight = Oversight(self.conditions)
        self.ms = 0
        self.utc_offset_ms = UTC

    def tick(self, minutes: float, *, cold: float | None = 30.0, synchronised: bool = True) -> list[str]:
        for _ in range(round(minutes * 60)):
            self.ms += 1000
            reading = Reading((ProbeReading(400.0, cold_junction_celsius=cold),))
            self.oversight.look(reading, Moment("b", self.ms, self.ms + self.utc_offset_ms, synchronised))
        return [view.code for view in self.conditions.views()]


def test_all_is_well_where_nothing_is_wrong() -> None:
    assert Watched().tick(120) == []


def test_a_clock_that_nothing_sets_is_told_after_ten_minutes_and_no_more_once_it_is_set() -> None:
    watched = Watched()
    assert watched.tick(9.9, synchronised=False) == []
    assert watched.tick(0.2, synchronised=False) == ["watch-clock"]
    assert watched.tick(0.1) == []


def test_a_clock_that_is_set_for_the_first_time_has_not_stepped() -> None:
    watched = Watched()
    watched.tick(2, synchronised=False)
    watched.utc_offset_ms += 40 * 365 * 86_400_000
    assert watched.tick(1) == []


def test_a_step_either_way_is_told_for_half_an_hour() -> None:
    for hour in (3_600_000, -3_600_000):
        watched = Watched()
        watched.tick(5)
        watched.utc_offset_ms += hour
        assert watched.tick(29) == ["watch-clock"]
        assert watched.tick(2) == []


def test_a_hot_box_is_told_after_a_minute_and_again_only_once_it_has_cooled() -> None:
    watched = Watched()
    assert watched.tick(0.9, cold=61.0) == []
    assert watched.tick(0.2, cold=61.0) == ["box-hot"]
    assert watched.tick(5, cold=57.0) == ["box-hot"], "in the deadband it stays"
    assert watched.tick(1, cold=None) == ["box-hot"], "what is not known has not cooled"
    assert watched.tick(0.1, cold=54.0) == []


def test_a_bus_that_another_program_keeps_is_said_while_it_lasts_and_a_busy_moment_is_not() -> None:
    conditions = Conditions(lambda: UTC)
    looks = iter((True, False, True, True, True, False, False))
    oversight = BusOversight(lambda: next(looks), conditions)
    seen = []
    for _ in range(7):
        assert oversight.look()
        seen.append([view.code for view in conditions.views()])
    assert seen == [[], [], [], ["watch-bus"], ["watch-bus"], [], []]
