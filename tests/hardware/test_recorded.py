"""A log that is played: its rows at their times, and no number where it has none."""

from spyhole.core.reading import Fault, ProbeReading, Reading
from spyhole_hardware.recorded import HOLDS_MS, RecordedProbes

LIT = 1_951_155_600_000


def reading(celsius: float | None, fault: Fault | None = None) -> Reading:
    return Reading((ProbeReading(celsius, fault),))


class Play:
    """A log, and a clock that begins anywhere."""

    def __init__(self, *rows: tuple[int, Reading]) -> None:
        self.now = 7_000_000
        self.probes = RecordedProbes([(LIT + at, said) for at, said in rows], 1, lambda: self.now)

    def at(self, ms: int) -> ProbeReading:
        self.now = 7_000_000 + ms
        return self.probes.read().probes[0]


def test_each_row_comes_at_its_time() -> None:
    play = Play((0, reading(18.0)), (5000, reading(19.0)), (10_000, reading(20.0)))
    assert [play.at(ms).celsius for ms in (0, 4999, 5000, 9999, 10_000)] == [18.0, 18.0, 19.0, 19.0, 20.0]


def test_a_watch_that_reads_seldom_misses_rows_and_not_the_time() -> None:
    play = Play(*((1000 * n, reading(18.0 + n)) for n in range(100)))
    assert [play.at(ms).celsius for ms in (0, 30_000, 60_000)] == [18.0, 48.0, 78.0]


def test_a_fault_of_the_log_is_a_fault() -> None:
    assert Play((0, reading(None, Fault.OPEN))).at(0) == ProbeReading(None, Fault.OPEN)


def test_a_gap_and_the_end_have_no_number() -> None:
    play = Play((0, reading(18.0)), (600_000, reading(30.0)))
    assert play.at(0).celsius == play.at(HOLDS_MS).celsius == 18.0
    assert play.at(HOLDS_MS + 1) == ProbeReading(None, Fault.UNSURE)
    assert play.at(600_000).celsius == 30.0
    assert play.at(600_000 + HOLDS_MS + 1) == ProbeReading(None, Fault.UNSURE)


def test_rows_that_a_clock_put_back_are_played_at_once() -> None:
    play = Play((0, reading(18.0)), (10_000, reading(20.0)), (4000, reading(21.0)), (11_000, reading(22.0)))
    play.at(0)
    assert [play.at(ms).celsius for ms in (10_000, 11_000)] == [21.0, 22.0]
