"""Fault 21: an alarm is put aside, the daemon dies, is away for a while, and starts again: the shelf holds, and ends.

A whole watch with its record, on simulated time. It is let go of without a last checkpoint, as a kill does.
"""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from spyhole.app.codec import codec
from spyhole.core.alarms.life import Alarm, Standing
from spyhole.core.moment import Moment
from spyhole.core.reading import Fault, ProbeReading, Reading
from spyhole.core.words import Manner
from spyhole.services.conditions import Conditions
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import SqlArchive, open_archive
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

UTC_MS = 1_951_155_600_000
STUDIO = Studio(KILN, TONIGHT.plan, "", "", Manner(), tick_seconds=10.0)


class House:
    """One kiln, its record, and daemons that come and go. True time is `ms`; each boot's clock begins at nought."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.ms, self.boot, self.born_ms, self.off_ms = folder, 0, 0, 0, 0
        self.start()

    def now(self) -> Moment:
        return Moment(f"boot-{self.boot}", self.ms - self.born_ms, UTC_MS + self.ms + self.off_ms, True)

    def wait_until(self, monotonic_ms: int) -> None:
        raise AssertionError("nobody waits here")

    def start(self) -> None:
        self.boot, self.born_ms = self.boot + 1, self.ms
        self.record: SqlArchive = open_archive(self.folder, seconds=time.monotonic, tell=lambda code, words: None)
        conditions = Conditions(lambda: self.now().utc_ms)
        self.keeper = Watchkeeper(STUDIO, self, self.record, Telling(()), conditions, codec())
        self.keeper.recover()

    def dies(self, minutes: float) -> None:
        assert self.record.flush(30.0)
        self.record.close(30.0)
        self.ms += round(minutes * 60_000)

    def watch(self, minutes: float, *, open_probe: bool = True) -> None:
        middle = ProbeReading(None, Fault.OPEN) if open_probe else ProbeReading(200.0)
        for _ in range(round(minutes * 6)):
            self.ms += 10_000
            self.keeper.take(Reading((ProbeReading(200.0), middle, ProbeReading(200.0))))

    @property
    def alarms(self) -> list[Alarm]:
        return [alarm for alarm in self.keeper.state.alarms.alarms if alarm.tag == "probe-open"]

    @property
    def standing(self) -> Standing:
        return self.alarms[0].standing if self.alarms else Standing.NORMAL


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    """Lit, its middle probe open, and that put aside for half an hour."""
    made = House(tmp_path / "record")
    made.keeper.enter("start", "", "", "Mina")
    made.watch(3)
    assert made.standing is Standing.UNACKNOWLEDGED
    made.keeper.shelve("probe-open", "middle", 30, "A worn lead", "Mina")
    yield made
    made.record.close(30.0)


def test_the_shelf_survives_and_a_live_condition_tells_again_at_its_end(house: House) -> None:
    house.watch(5)
    (before,) = house.alarms
    house.dies(minutes=10)
    house.start()
    house.watch(14.5)
    assert house.standing is Standing.SHELVED, "29.5 minutes of 30, ten of them with no daemon"
    house.watch(1)
    assert house.standing is Standing.UNACKNOWLEDGED
    (after,) = house.alarms
    assert after.episode == before.episode
    assert [(deed.kind.value, deed.who, deed.note) for deed in after.history][-2:] == [
        ("shelved", "Mina", "A worn lead"),
        ("shelving over", "", ""),
    ]


def test_a_shelf_that_ended_while_nobody_watched_is_over_at_the_first_look(house: House) -> None:
    house.dies(minutes=45)
    house.start()
    house.watch(1)
    assert house.standing is Standing.UNACKNOWLEDGED


def test_one_that_is_over_comes_back_as_nothing(house: House) -> None:
    house.watch(5, open_probe=False)
    house.dies(minutes=1)
    house.start()
    house.watch(30, open_probe=False)
    assert house.standing is Standing.NORMAL


@pytest.mark.parametrize("hours", [1, -1])
def test_a_clock_that_steps_moves_no_shelf(house: House, hours: int) -> None:
    house.watch(10)
    house.off_ms = hours * 3_600_000
    house.watch(19.5)
    assert house.standing is Standing.SHELVED
    house.watch(1)
    assert house.standing is Standing.UNACKNOWLEDGED


def test_a_probe_out_of_service_stays_so_until_somebody_puts_it_back(house: House) -> None:
    house.keeper.take_out_of_service("middle", "A worn lead", "Mina")
    house.watch(45)
    house.dies(minutes=5)
    house.start()
    house.watch(45)
    assert house.standing is Standing.OUT_OF_SERVICE
    house.keeper.put_back("middle", "Wren")
    assert house.standing is Standing.UNACKNOWLEDGED, "judged at once"
