"""What the rings draw is asked for once a minute and written down where it is news; a failure disturbs nothing."""

from typing import Any

from spyhole.core.drawn import Drawn
from spyhole.services.ammeter import Ammeter
from spyhole.services.conditions import Conditions

MINUTE = 60_000


class Bench:
    """Two rings, a clamp on the lower, and a reading each second."""

    fitted = frozenset({0})

    def __init__(self, tools: Any) -> None:
        self.clock = tools.clock(10 * 24 * 60 * MINUTE)
        self.conditions = Conditions(lambda: 0)
        self.amperes: float | None = 0.0
        self.asked = 0
        self.broken = False
        self.taken: list[tuple[float | None, ...]] = []
        self.ammeter = Ammeter(self, self.clock, lambda drawn: self.taken.append(drawn.amperes), self.conditions)

    def read(self) -> Drawn:
        self.asked += 1
        if self.broken:
            raise RuntimeError("a fault of ours")
        return Drawn((self.amperes, None))

    def minutes(self, count: int) -> list[str]:
        for _ in range(count * 60):
            self.ammeter.look()
            self.clock.wait_until(self.clock.ms + 1000)
        return [view.code for view in self.conditions.views()]


def test_it_is_asked_once_a_minute_whatever_the_readings(tools: Any) -> None:
    bench = Bench(tools)
    bench.minutes(30)
    assert bench.asked == 30


def test_a_night_on_one_setting_is_a_row_each_ten_minutes_and_a_turn_is_one_at_once(tools: Any) -> None:
    bench = Bench(tools)
    bench.minutes(60)
    assert bench.taken == [(0.0, None)] * 6
    bench.amperes = 13.5
    bench.minutes(1)
    assert bench.taken[6:] == [(13.5, None)]


def test_a_clamp_without_sense_is_said_after_three_minutes_and_taken_back(tools: Any) -> None:
    bench = Bench(tools)
    assert bench.minutes(1) == []
    bench.amperes = None
    assert bench.minutes(2) == []
    assert bench.minutes(1) == ["watch-current"]
    bench.amperes = 0.0
    assert bench.minutes(1) == []


def test_a_fault_of_ours_here_ends_nothing_and_is_said(tools: Any) -> None:
    bench = Bench(tools)
    bench.broken = True
    assert bench.minutes(1) == ["watch-current"]
    bench.broken = False
    assert bench.minutes(1) == []
    assert bench.taken == [(0.0, None)]
