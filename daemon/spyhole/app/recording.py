"""`spyhole record`: how the record of a settings file stands, and its tables brought to this version's."""

import subprocess
import sys
from pathlib import Path

from spyhole.app.settings import Settings, read_settings
from spyhole.core.refusal import Refusal
from spyhole.store.before import put_back
from spyhole.store.location import Location, location_of


def check(config: Path) -> int:
    """Say how the record stands; 1 when it is damaged. Refusal when there is none, or none that can be read."""
    location, name = _location(config)
    with location.read() as records:
        found = records.integrity_check()
        kilns = records.kilns()
    print(f"{name}: {'damaged' if found else 'sound'}, its tables are this version's")
    for problem in found:
        print(f"  {problem}")
    print(f"  kilns: {', '.join(kilns) or 'none yet'}")
    return 1 if found else 0


def upgrade(config: Path) -> int:
    """Bring the tables to this version's, all or nothing. Refusal for a newer one's: there is no way down."""
    location, name = _location(config)
    before, now = location.upgrade()
    print(f"{name}: its tables are at {now}" + (f"; they were at {before or 'nothing'}" if before != now else ""))
    return 0


def upgrade_beside(config: Path, settings: Settings) -> None:
    """The same before a watch begins, in a process of its own: what it takes, 7 MiB, a watch would hold for years.

    Whatever it says is not heard: the opening of the record comes to the same, and says it.
    """
    if location_of(settings.data, settings.database).is_due:
        words = (sys.executable, "-m", "spyhole.app.commands", "record", "upgrade", "--config", str(config))
        subprocess.run(words, capture_output=True, check=False)  # noqa: S603 - this very interpreter


def back(config: Path) -> int:
    """Undo an upgrade with the copy made before it. Refusal where there is none."""
    location, name = _location(config)
    if location.url is not None:
        raise Refusal(name, "a record on a server is put back by whoever runs the server")
    aside = put_back(location.folder)
    print(f"{name}: as it was before the upgrade" + (f"; what was there is kept as {aside}" if aside else ""))
    return 0


def _location(config: Path) -> tuple[Location, str]:
    settings: Settings = read_settings(config)
    location = location_of(settings.data, settings.database)
    return location, location.name
