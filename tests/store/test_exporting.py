"""The files of a firing, written from a record in a file and from one on a server."""

from pathlib import Path

import pytest

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.journal import Clock, Settings, Undo
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.services.archive import Batch, Firing, Minute, RingMinute, Step
from spyhole.services.desk import FiringSummary
from spyhole.services.exporting import write_firing
from spyhole.store.archive import SqlArchive
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

BEGAN_MS = 1_951_155_600_000


@pytest.fixture
def archive(any_record) -> SqlArchive:
    """Lit at 19:40:03; a switch that was turned, one that was taken back; 2500 readings; a minute."""
    told = {
        1: Clock(BEGAN_MS + 1000, synchronised=True),
        2: Settings(KILN, TONIGHT.plan),
        3: Entry(EntryKind.START, "", "05", "Ruth"),
        4: Entry(EntryKind.SWITCH, "bottom", "low", "Ruth"),
        5: Entry(EntryKind.SWITCH, "top", "high", "Ruth"),
        6: Undo(5, "Ruth"),
    }
    archive: SqlArchive = any_record.open()
    summary = FiringSummary(3, "bisque", "05", BEGAN_MS + 3000, None, None, None, None, 0)
    ring = RingMinute(20.0, 20.5, 21.0)
    archive.put(
        Batch(
            tuple(Step(any_record.reading(n, told.get(n))) for n in range(1, 2507)),
            (
                Minute("Puffin", 3, 60, "first", 60_000, "low", None, (ring, None, ring)),
                Minute("Puffin", 3, 2400, "first", 2_400_000, "low", None, (ring, None, ring)),
            ),
            (Firing("Puffin", summary, plan_to_toml(TONIGHT.plan, KILN), kiln_to_toml(KILN)),),
            urgent=True,
        )
    )
    assert archive.flush(30)
    return archive


def test_readings_and_entries_of_a_firing(archive: SqlArchive, tmp_path: Path):
    assert write_firing(archive, "Puffin", 3, tmp_path / "out", Manner()) is True
    lines = (tmp_path / "out" / "readings.csv").read_text().splitlines()
    assert lines[0] == "time,bottom,middle,top,bottom_fault,middle_fault,top_fault"
    assert lines[1] == "2031-10-30T19:40:07Z,20.0546875,21.0546875,22.0546875,,,"
    assert len(lines) == 1 + 2400 - 6, "to the last minute of the firing"
    assert (tmp_path / "out" / "entries.csv").read_text() == (
        "time,kind,subject,value\n2031-10-30T19:40:03Z,start,,05\n2031-10-30T19:40:04Z,switch,bottom,low\n"
    )
    assert (tmp_path / "out" / "kiln.toml").read_text() == kiln_to_toml(KILN)


def test_a_firing_that_is_not_there(archive: SqlArchive, tmp_path: Path):
    with pytest.raises(Refusal, match="no firing 9"):
        write_firing(archive, "Puffin", 9, tmp_path / "out", Manner())
    assert not (tmp_path / "out").exists()
