"""Readings at their deadlines, whatever the probes say; and who notices when there are none."""

import threading
from typing import Any

import pytest

from spyhole.core.reading import Fault, ProbeReading, Reading
from spyhole.services.beat import Beat
from spyhole.services.conditions import LATE, SILENT, STUMBLED, Conditions
from spyhole.services.sampler import LATE_TICKS, READ_DEADLINE_SECONDS, RESTART_SECONDS, Sampler


class Bench:
    """A sampler with simulated time on all sides."""

    def __init__(self, tools: Any, says: Any, until_ms: int, every_ms: int = 1000) -> None:
        self.clock = tools.clock(until_ms)
        self.seconds = 0.0
        self.fed = 0
        self.taken: list[Reading] = []
        self.conditions = Conditions(lambda: self.clock.now().utc_ms)
        self.beat = Beat(lambda: self.seconds, self._feed)
        self.sampler = Sampler(
            tools.probes(says),
            self.clock,
            self.taken.append,
            every_ms=every_ms,
            probe_count=1,
            beat=self.beat,
            conditions=self.conditions,
        )

    def _feed(self) -> None:
        self.fed += 1

    def run(self) -> "Bench":
        self.sampler.start()
        assert self.clock.reached.wait(30)
        self.clock.stop()
        assert self.sampler.stop(30)
        return self

    def holds(self) -> list[str]:
        return [view.code for view in self.conditions.views()]


@pytest.mark.parametrize("every_ms", [1000, 5000, 30_000])
def test_readings_come_at_their_deadlines(tools: Any, every_ms: int) -> None:
    bench = Bench(tools, lambda: tools.reading(20.0), until_ms=every_ms * 9, every_ms=every_ms).run()
    assert bench.clock.waits == [every_ms * n for n in range(11)]
    assert len(bench.taken) == bench.fed == 10
    assert bench.holds() == []


def test_a_slow_read_does_not_shift_the_deadlines_after_it(tools: Any) -> None:
    def says() -> Reading:
        bench.clock.ms += 300
        return tools.reading(20.0)

    bench = Bench(tools, says, until_ms=5000)
    bench.run()
    assert bench.clock.waits == [0, 1000, 2000, 3000, 4000, 5000, 6000]


def test_missed_deadlines_are_skipped_and_never_made_up(tools: Any) -> None:
    def says() -> Reading:
        bench.clock.ms += 2500 if bench.clock.ms == 2000 else 0
        return tools.reading(20.0)

    bench = Bench(tools, says, until_ms=8000)
    bench.run()
    assert bench.clock.waits == [0, 1000, 2000, 5000, 6000, 7000, 8000, 9000]


def test_readings_without_a_number_are_readings(tools: Any) -> None:
    silent = Reading((ProbeReading(None, Fault.OPEN),))
    bench = Bench(tools, lambda: silent, until_ms=3000).run()
    assert bench.taken == [silent] * 4
    assert bench.fed == 4


def test_lateness_is_said_when_it_persists_and_unsaid_when_it_is_over(tools: Any) -> None:
    class Laggard(tools.clock):  # type: ignore[name-defined,misc]
        def wait_until(self, monotonic_ms: int) -> None:
            super().wait_until(monotonic_ms)
            if 2000 <= self.ms < 2000 + LATE_TICKS * 2000:
                self.ms += 900

    tools.clock = Laggard
    seen: list[list[str]] = []
    bench = Bench(tools, lambda: (seen.append(bench.holds()), tools.reading(20.0))[1], until_ms=20_000)
    bench.run()
    assert [LATE.code] in seen
    assert bench.sampler.worst_lateness_ms == 900
    assert bench.holds() == []


def test_a_reading_the_watch_stumbles_over_costs_that_reading_and_the_watchdog_its_meal(tools: Any) -> None:
    bench = Bench(tools, lambda: tools.reading(20.0), until_ms=5000)
    taken = bench.taken.append
    refuse = [1, 2]

    def take(reading: Reading) -> None:
        if bench.sampler._beat.ticks in refuse:
            refuse.pop(0)
            raise RuntimeError("a fault of ours")
        taken(reading)

    bench.sampler._take = take
    bench.run()
    assert len(bench.taken) == bench.fed == 4
    assert bench.holds() == []


def test_a_fault_of_ours_is_said_while_it_lasts(tools: Any) -> None:
    def says() -> Reading:
        raise RuntimeError("a fault of ours")

    bench = Bench(tools, says, until_ms=3000).run()
    assert bench.fed == 0
    assert bench.holds() == [STUMBLED.code]


def test_a_read_that_outlives_its_deadline_is_a_fault_once_and_then_a_restart(tools: Any) -> None:
    let_go = threading.Event()
    inside = threading.Event()

    def says() -> Reading:
        inside.set()
        let_go.wait(60)
        return tools.reading(20.0)

    bench = Bench(tools, says, until_ms=0)
    bench.sampler.start()
    assert inside.wait(30)
    assert bench.sampler.look_after()
    assert bench.taken == []
    bench.seconds = READ_DEADLINE_SECONDS + 1
    assert bench.sampler.look_after()
    assert bench.sampler.look_after()
    assert bench.taken == [Reading((ProbeReading(None, Fault.BUS),))]
    assert bench.holds() == [SILENT.code]
    assert bench.fed == 0
    bench.seconds = RESTART_SECONDS + 1
    assert not bench.sampler.look_after()
    let_go.set()
    bench.clock.stop()
    assert bench.sampler.stop(30)
    assert bench.holds() == []
