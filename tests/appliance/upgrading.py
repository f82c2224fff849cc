"""From one version to the next, killed at each step: the old one or the new one, never something between.

The newer versions are this checkout with a migration more; each further one is the same wheel with a file more in it.
"""

import json
import os
import random
import shutil
import signal
import time
import zipfile
from collections.abc import Callable
from contextlib import suppress

from box import Box, Outcomes, stands, until
from installing import build

SEED = 20261125
GOING_BACK = 2
MIGRATION = """
import time
from alembic import op

revision = "{new}"
down_revision = "{old}"


def upgrade() -> None:
    op.execute("CREATE TABLE proof_{new} (n INTEGER)")
    op.execute("INSERT INTO proof_{new} SELECT place FROM reading")
    time.sleep({seconds})
    op.execute("CREATE TABLE proof_{new}_too (n INTEGER)")
"""
BEGINS_NOT = "raise OSError('this version is broken on purpose, as a test of going back')"


class Versions:
    """Wheels in the box, newest tables last. tables: what the newest brings a record to."""

    def __init__(self, box: Box) -> None:
        self._box = box
        self._number = 0
        self.newest = self.tables = ""
        self._place = box.root / "srv/next"
        shutil.rmtree(self._place, ignore_errors=True)
        shutil.copytree(box.root / "srv/spyhole", self._place)

    def next(self, *, seconds: float = 0.0, broken: bool = False) -> str:
        """One with a migration more, which takes so long; and, broken, a watch that ends once its record is open."""
        store = self._place / "daemon/spyhole/store"
        tables = store / "tables.py"
        words = tables.read_text()
        old = words.partition('SCHEMA = "')[2][:4]
        new = f"{int(old) + 1:04}"
        tables.write_text(words.replace(f'SCHEMA = "{old}"', f'SCHEMA = "{new}"'))
        migration = MIGRATION.format(old=old, new=new, seconds=seconds)
        (store / f"migrations/versions/m{new}_proof.py").write_text(migration)
        watching = self._place / "daemon/spyhole/app/watching.py"
        sound = watching.read_text()
        if broken:
            watching.write_text(sound.replace("    with signals(daemon", f"    {BEGINS_NOT}\n    with signals(daemon"))
            assert watching.read_text() != sound
        wheel = build(self._box, f"made-{new}", "next")
        watching.write_text(sound)
        if broken:  # the next one after it is not built upon it
            tables.write_text(words)
            (store / f"migrations/versions/m{new}_proof.py").unlink()
        else:
            self.newest, self.tables = wheel, new
        return wheel

    def variant(self, wheel: str) -> str:
        """The same again, under another identity."""
        self._number += 1
        there = self._box.root / wheel.removeprefix("/")
        made = there.parent / f"variant-{self._number}" / there.name
        made.parent.mkdir()
        shutil.copy(there, made)
        with zipfile.ZipFile(made, "a") as file:
            file.writestr("spyhole/app/appliance/files/variant", str(self._number))
        return f"/{made.relative_to(self._box.root)}"


def prove(box: Box, outcomes: Outcomes) -> None:
    """One line each."""
    chance = random.Random(SEED)
    box.inside("sh spyhole/systemd/install")
    if not box.answers():
        outcomes.say("installed before the upgrades", False)
        return
    versions = Versions(box)
    newer = versions.next()
    steps: dict[str, Callable[[], None]] = {
        "lines": lambda: at_each_line(box, outcomes, newer),
        "back": lambda: goes_back(box, outcomes, versions, chance),
        "migration": lambda: in_the_migration(box, outcomes, versions, chance),
        "backup": lambda: in_a_backup(box, outcomes, chance),
        "trial": lambda: in_the_trial(box, outcomes, versions, chance),
    }
    for name in os.environ.get("UPGRADES", "").split() or list(steps):
        with outcomes.each(f"upgrade, {name}"):
            steps[name]()


def command(wheel: str) -> str:
    """As a keeper types it."""
    return f"env PYTHONPATH={wheel} python3 -m spyhole.app.appliance install --now"


def whole(box: Box) -> bool:
    """A version in service that was finished, nothing on trial, and the page answers."""
    settled = until(120, lambda: not box.on_trial())
    return settled and (box.root / "opt/spyhole/versions" / box.version() / "whole").is_file() and box.answers(60)


def at_each_line(box: Box, outcomes: Outcomes, wheel: str) -> None:
    """Killed as it says each of its lines, and with it all that it began; then once not."""
    old = box.version()
    seen: list[str] = []
    number, well = 0, True
    while number < 30:
        killed = _killed_at(box, command(wheel), number)
        well &= whole(box)
        seen.append("old" if box.version() == old else "new")
        number += 1
        if not killed:
            break
    ordered = seen == sorted(seen, reverse=True)  # once new, never old again
    words = f"{number - 1} kills, afterwards {seen.count('old')} times the old one, {seen.count('new')} times the new"
    outcomes.say("upgrade from a wheel, killed at each line it says", well and ordered and seen[-1] == "new", words)
    record = box.record()
    kept = (box.root / "var/lib/spyhole/spyhole.db.before-upgrade").is_file()
    backups = len(list((box.root / "var/lib/spyhole/backups").glob("record-*.zip")))
    well = record["sound"] == "ok" and record["gap"] == 0 and kept and backups > 0
    outcomes.say(
        "its record: tables new, no row lost, copies from before", well, f"{stands(record)}, {backups} backups"
    )


def _killed_at(box: Box, words: str, line: int) -> bool:
    """Whether it was still there to be killed when it had said this line."""
    at_work = box.begin(words)
    assert at_work.stdout is not None
    killed = False
    for number, _ in enumerate(at_work.stdout):
        if number == line:
            with suppress(ProcessLookupError):
                os.killpg(at_work.pid, signal.SIGKILL)
            killed = True
            break
    at_work.stdout.close()
    at_work.wait()
    return killed


def in_the_trial(box: Box, outcomes: Outcomes, versions: Versions, chance: random.Random) -> None:
    """What ends a trial, killed; and the machine's power, cut."""
    well, delays = True, [round(chance.uniform(0, 8), 1) for _ in range(4)]
    for delay in delays:
        old = box.version()
        at_work = box.begin(command(versions.variant(versions.newest)))
        until(120, box.on_trial, 0.05)
        time.sleep(delay)
        box.kill("spyhole-settle")
        at_work.communicate()
        well &= whole(box) and box.version() != old
    outcomes.say(
        "what looks at the new version, killed", well, f"after {delays} s (seed {SEED}); the new one each time"
    )
    well, seen = True, []
    delays = [0.0, *(round(chance.uniform(0, 6), 1) for _ in range(2))]
    for delay in delays:
        old = box.version()
        at_work = box.begin(command(versions.variant(versions.newest)))
        until(120, box.on_trial, 0.05)
        time.sleep(delay)
        box.power_cut()
        at_work.communicate()
        box.boot()
        well &= whole(box)
        seen.append("old" if box.version() == old else "new")
    outcomes.say("the power cut in a change, then booted", well, f"after {delays} s: {', '.join(seen)}")


def goes_back(box: Box, outcomes: Outcomes, versions: Versions, chance: random.Random) -> None:
    """A version that cannot watch, and has changed the tables already."""
    old, before = box.version(), box.record()
    box.answers()
    broken, versions_before = versions.next(broken=True), _versions(box)
    code, said = box.inside(command(broken))
    back = code == 1 and box.version() == old and "was not well" in said and whole(box)
    after = box.record()
    told = f"tables {before['tables']}, then {after['tables']}; rows {before['rows']}, then {after['rows']}"
    back = back and _versions(box) == versions_before
    sound = after["sound"] == "ok" and after["tables"] == before["tables"] and after["gap"] == 0
    outcomes.say("a version that cannot watch: the old one is back, its record too", back and sound, told)
    killed_going_back(box, outcomes, versions, broken, chance)


def _versions(box: Box) -> set[str]:
    return {path.name for path in (box.root / "opt/spyhole/versions").iterdir()}


def killed_going_back(box: Box, outcomes: Outcomes, versions: Versions, broken: str, chance: random.Random) -> None:
    """What ends the trial is killed again and again once it has seen the newer version ill and is going back."""
    box.answers()
    old, before = box.version(), box.record()
    well, kills = True, []
    for _ in range(GOING_BACK):
        box.answers()
        at_work = box.begin(command(versions.variant(broken)))
        until(300, lambda: _goes_back(box), 0.05)
        kills.append(0)
        for _ in range(3):
            until(10, lambda: box.pid("spyhole-settle") != 0 or not box.on_trial(), 0.05)
            time.sleep(chance.uniform(0, 1))
            if box.on_trial():
                box.kill("spyhole-settle")
                kills[-1] += 1
        at_work.communicate()
        well &= whole(box) and box.version() == old and kills[-1] > 0
    after = box.record()
    well &= after["sound"] == "ok" and after["tables"] == before["tables"] and after["gap"] == 0
    seen = f"{', '.join(map(str, kills))} kills (seed {SEED}): {stands(before)}, then {stands(after)}"
    outcomes.say("killed while it goes back: the old one is back each time, its record too", well, seen)


def _goes_back(box: Box) -> bool:
    with suppress(OSError, ValueError):
        return json.loads((box.root / "opt/spyhole/trial.json").read_text())["back"] is True
    return False


def in_the_migration(box: Box, outcomes: Outcomes, versions: Versions, chance: random.Random) -> None:
    """Fault 23: the watch killed while its tables change."""
    before = box.record()
    box.answers()
    at_work = box.begin(command(versions.next(seconds=4)))
    until(120, box.on_trial, 0.05)
    old = box.pid()
    kills = 0
    for _ in range(3):
        until(20, lambda last=old: box.pid() not in (0, last), 0.1)  # type: ignore[misc]
        time.sleep(chance.uniform(1.5, 4))
        old = box.pid()
        if box.on_trial():
            box.kill()
            kills += 1
    at_work.communicate()
    well = whole(box)
    after = box.record()
    well &= after["sound"] == "ok" and after["gap"] == 0 and after["tables"] == versions.tables != before["tables"]
    outcomes.say(
        "23  the watch killed in a migration",
        well and kills > 0,
        f"{kills} kills: {stands(before)}, then {stands(after)}",
    )


def in_a_backup(box: Box, outcomes: Outcomes, chance: random.Random) -> None:
    """Fault 23: the watch killed while it makes a backup."""
    box.answers()
    folder = box.root / "var/lib/spyhole/backups"
    within = 0
    for _ in range(12):
        process = box.pid()
        at_work = box.begin("runuser -u spyhole -- spyhole backup --data /var/lib/spyhole")
        until(30, lambda: any(folder.glob("*.part")), 0.002)
        time.sleep(chance.uniform(0, 0.3))
        within += any(folder.glob("*.part"))
        os.kill(process, signal.SIGKILL)
        at_work.communicate()
        box.answers()
    box.inside("runuser -u spyhole -- spyhole backup --data /var/lib/spyhole")
    broken = []
    for path in sorted(folder.glob("*.zip")):
        code, _ = box.inside(f"rm -rf /srv/back && mkdir -m 777 /srv/back && spyhole restore "
                             f"/var/lib/spyhole/backups/{path.name} --data /srv/back")  # fmt: skip
        if code:
            broken.append(path.name)
    count = len(list(folder.glob("*.zip")))
    outcomes.say(
        "23  the watch killed in a backup, 12 times",
        not broken and within > 0,
        f"{within} times while it was half written; {count} files, each restored whole but: {broken}",
    )
