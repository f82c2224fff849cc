"""`spyhole selftest`: whether a watch runs and would be able to do what it is for, when nobody looks.

systemd starts it each morning by a timer of its own, because it matters most while no daemon runs. A running daemon is
told what was found and shows it as a condition; where none runs, everybody who can be reached is told that.
Nightly backups stay with the daemon, which alone can read its record; this looks whether they were made.
"""

import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from spyhole.app.hatch import Given, ask
from spyhole.app.settings import Settings, read_settings
from spyhole.app.ways import ways_of_people, ways_of_settings
from spyhole.core.ports import Answer
from spyhole.core.refusal import Refusal
from spyhole.services.backups import FOLDER, made_utc_ms
from spyhole.services.conditions import SELFTEST, Conditions
from spyhole.store.backup import opened, verify
from spyhole.store.database import DATABASE

ACT = "selftest"
FOUND = "found"
WANTED = Path("/etc/systemd/system/multi-user.target.wants")
ROOM_BYTES = 500 * 1024 * 1024
OLDEST_SECONDS = 50 * 3600
"""Of the newest backup: two nights missed."""

NOT_RUNNING = "spyhole does not run, so nobody watches this kiln. On its Pi: systemctl status spyhole."


def started_with_the_machine(settings: Path, wanted: Path = WANTED) -> list[Path]:
    """Settings files of the kilns whose service is enabled, the first one's first."""
    first = [settings / "spyhole.toml"] if (wanted / "spyhole.service").is_symlink() else []
    others = sorted(path.name.removesuffix(".service").partition("@")[2] for path in wanted.glob("spyhole@*.service"))
    return first + [settings / name / "spyhole.toml" for name in others]


def selftest(config: Path) -> int:
    """Look, say it here and where somebody sees it; 1 when something is wrong."""
    try:
        settings = read_settings(config)
    except Refusal as refusal:
        print(f"wrong    {refusal}")
        return 1
    found = list(findings(settings, time.time()))
    try:
        told = ask(settings.data, ACT, {FOUND: " ".join(found)})
    except (Refusal, OSError, ValueError) as problem:
        found.append(f"The daemon could not be told of this ({problem}).")
        told = ""
    if told is None:
        found.insert(0, NOT_RUNNING)
        _tell(settings, " ".join(found))
    for one in found:
        print(f"wrong    {settings.kiln.name}: {one}")
    if not found:
        print(f"ok       {settings.kiln.name}: it runs, and nothing was found that would fail")
    return 1 if found else 0


def findings(settings: Settings, now: float) -> Iterator[str]:
    """Each thing that would fail when it is needed, in a sentence. now: seconds of UTC."""
    data = settings.data
    try:
        with tempfile.TemporaryFile(dir=data) as trial:
            trial.write(b"spyhole")
            trial.flush()
            os.fsync(trial.fileno())
    except OSError as error:
        yield f"{data} takes no writes ({error.strerror})."
        return
    free = shutil.disk_usage(data).free
    if free < ROOM_BYTES:
        yield f"The card has {free >> 20} MB left; make room."
    if settings.database or not (data / DATABASE).is_file():
        return
    backups = [(made, path) for path in (data / FOLDER).glob("*.zip") if (made := made_utc_ms(path.name)) is not None]
    begun = min(path.stat().st_mtime for path in (data / "spyhole.lock", data) if path.exists())
    newest = max(backups, default=None)
    if now - (begun if newest is None else newest[0] / 1000) > OLDEST_SECONDS:
        yield "There is no backup of the last two nights; the log says why."
    if newest is not None:
        try:
            with opened(newest[1]) as (manifest, archive):
                verify(archive, manifest, str(newest[1]))
        except Refusal as refusal:
            yield f"The newest backup cannot be read back ({refusal.problem}); the card may be worn out."


def found_by_selftest(conditions: Conditions, given: Given) -> str:
    """For the daemon: shown until a self-test finds nothing."""
    found = given.get(FOUND, "")
    if not found:
        conditions.clear(SELFTEST)
    else:
        conditions.told(SELFTEST.code, f"{SELFTEST.words} {found}")
    return "heard"


def _tell(settings: Settings, words: str) -> None:
    """Everybody who can be reached without the daemon."""
    ways = ways_of_settings(settings)
    try:
        ways += ways_of_people(settings)
    except Refusal as refusal:
        print(f"wrong    who is to be told cannot be read: {refusal}")
    messengers = [way.messenger for way in ways if way.messenger is not None]
    for messenger in messengers:
        if messenger.send(f"{settings.kiln.name}: not watched", words, urgent=False) is not Answer.ACCEPTED:
            print("wrong    a message could not be delivered")
    if not messengers:
        print("wrong    there is nobody to tell: spyhole people add")
