"""The files of the Tern Street Clay Room, and a record to read."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

LIT_UTC_MS = 1_951_155_600_000
"""2031-10-30T19:40:00Z."""


@dataclass(frozen=True)
class Files:
    """Kiln, plan, settings, readings and entries in one folder."""

    folder: Path

    @property
    def kiln(self) -> Path:
        return self.folder / "puffin.toml"

    @property
    def plan(self) -> Path:
        return self.folder / "bisque-05.toml"

    @property
    def settings(self) -> Path:
        return self.folder / "spyhole.toml"

    @property
    def readings(self) -> Path:
        return self.folder / "friday.csv"

    @property
    def entries(self) -> Path:
        return self.folder / "friday-entries.csv"

    def set(self, text: str, file: str = "spyhole.toml") -> Path:
        (self.folder / file).write_text(text)
        return self.folder / file


SETTINGS = """\
kiln = "puffin.toml"
plan = "bisque-05.toml"
data = "record"
driver = "emulated"
mains_hertz = 50
port = 0
"""

READINGS = """\
time,bottom,middle,top,top_fault
2031-10-30T19:41:39Z,15.078125,15.296875,16.4765625,
2031-10-30T19:41:44Z,15.28125,14.546875,,open
2031-10-30T19:42:09Z,15.28125,14.546875,16.5,
"""

ENTRIES = """\
time,kind,subject,value
2031-10-30T19:41:11Z,start,,05
2031-10-30T19:41:44Z,switch,bottom,low
2031-10-30T19:45:00Z,note,,plugs are out
"""


@pytest.fixture
def files(tmp_path: Path) -> Files:
    made = Files(tmp_path)
    made.set(kiln_to_toml(KILN), "puffin.toml")
    made.set(plan_to_toml(TONIGHT.plan, KILN), "bisque-05.toml")
    made.set(SETTINGS)
    made.set(READINGS, "friday.csv")
    made.set(ENTRIES, "friday-entries.csv")
    return made
