"""The version in service, the one on trial, and the rename between them."""

import json
import os
import shutil
from dataclasses import asdict, dataclass
from pathlib import Path

from spyhole.app.appliance.house import House, link, sync, write
from spyhole.app.appliance.source import WHOLE

TRIAL = "trial.json"


@dataclass(frozen=True, slots=True)
class Trial:
    """A change that nobody has seen well yet.

    new, old: versions by id; old is "" where there was none. units: of the kilns that ran. back: it was seen ill, and
    is being undone.
    """

    new: str
    old: str
    units: tuple[str, ...]
    back: bool = False


def in_service(house: House) -> str:
    """The id of the version that `current` leads to, "" where none does."""
    return Path(os.readlink(house.current)).name if house.current.is_symlink() else ""


def switch(house: House, version: str) -> None:
    """That version from now on, by one rename."""
    assert (house.versions / version / WHOLE).is_file(), f"{version} is not whole"
    link(house.current, f"versions/{version}")


def read(house: House) -> Trial | None:
    """The trial that is on."""
    try:
        table = json.loads((house.opt / TRIAL).read_text())
        return Trial(**{**table, "units": tuple(table["units"])})
    except (OSError, ValueError, TypeError, KeyError):
        return None


def begin(house: House, trial: Trial) -> None:
    """On the card before anything is changed."""
    write(house.opt / TRIAL, json.dumps(asdict(trial)))


def end(house: House) -> None:
    """The trial is over."""
    (house.opt / TRIAL).unlink(missing_ok=True)
    sync(house.opt)


def drop(house: House, version: str) -> None:
    """Let go of one that was not well: whoever wants to try it again has it made afresh."""
    assert version != in_service(house), f"{version} is in service"
    shutil.rmtree(house.versions / version, ignore_errors=True)


def prune(house: House, *keep: str) -> None:
    """Let go of versions and builds that nobody needs any more."""
    for folder in house.versions.iterdir():
        if folder.name not in keep:
            shutil.rmtree(folder, ignore_errors=True)
    for path in house.opt.iterdir():
        # Also what an installer of before versions had folders left here.
        if path.name not in (house.versions.name, house.current.name, TRIAL, "lock"):
            shutil.rmtree(path) if path.is_dir() and not path.is_symlink() else path.unlink()
