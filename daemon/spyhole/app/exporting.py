"""`spyhole export`: firings as files that anybody can read, one after the other, however many there are.

While a daemon has the record it writes the rows of each firing where the command asks for them; judging them again,
which takes longest, is the command's own work.
"""

import json
import os
import re
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

from spyhole.app.hatch import Act, Given, ask
from spyhole.app.replay import Files, on_terminal, replay_files
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.services.archive import ArchiveTrouble
from spyhole.services.exporting import ENTRIES, KILN, PLAN, READINGS, TOLD, FiringRecords, write_firing
from spyhole.store.location import location_of

ACT = "export"
FOLDER = "exports"
OUTCOMES = "outcomes.jsonl"
README = "README.txt"
LIST_AT_ONCE = 200

_ALL_WORDS = """\
Firings from the kiln book of spyhole, a folder each. Times are UTC, temperatures degC.

kiln.toml, plan.toml  the kiln and the plan it was fired by
readings.csv          what the probes read
entries.csv           what people wrote down; what they took back again is left out
outcomes.jsonl        what the watch says of these readings and entries: spyhole replay says the same, byte for byte
told.jsonl            what was said at the time, which also knew who acknowledged and what earlier firings taught

A number that no probe reads has become the fault range.

A folder with a README.txt of its own has its readings by the minute.
"""
_MINUTE_WORDS = """\
The single readings of this firing were let go. readings.csv has one a minute, the mean of that minute; outcomes.jsonl
is what was said at the time, alarms and prompts, and a replay of these readings says less.
"""


@dataclass(frozen=True, slots=True)
class Line:
    """One firing there is."""

    kiln: str
    firing: int
    started_utc_ms: int


class Source(Protocol):
    """Where firings come from."""

    def lines(self) -> Iterator[Line]:
        """Those there are."""
        ...

    def write(self, line: Line, folder: Path) -> bool:
        """See `services.exporting.write_firing`."""
        ...


class Own:
    """The record itself."""

    def __init__(self, records: FiringRecords, manner: Manner) -> None:
        self._records = records
        self._manner = manner

    def lines(self) -> Iterator[Line]:
        for kiln in self._records.kilns():
            before: int | None = None
            while found := self._records.firings(kiln, LIST_AT_ONCE, before):
                yield from (Line(kiln, one.id, one.started_utc_ms) for one in found)
                before = found[-1].id

    def write(self, line: Line, folder: Path) -> bool:
        return write_firing(self._records, line.kiln, line.firing, folder, self._manner)


class Asked:
    """The daemon that has the record open. data: its folder."""

    def __init__(self, data: Path, manner: Manner) -> None:
        self._data = data
        self._manner = {"zone": str(manner.zone), "unit": manner.unit}

    def lines(self) -> Iterator[Line]:
        for kiln in json.loads(self._ask({"do": "kilns"})):
            before = ""
            while found := json.loads(self._ask({"do": "list", "kiln": kiln, "before": before})):
                yield from (Line(kiln, *one) for one in found)
                before = str(found[-1][0])

    def write(self, line: Line, folder: Path) -> bool:
        raw = self._ask({"do": "write", "kiln": line.kiln, "firing": str(line.firing), **self._manner}) == "readings"
        shutil.copytree(self._data / FOLDER, folder)
        self._ask({"do": "over"})
        return raw

    def _ask(self, given: Given) -> str:
        said = ask(self._data, ACT, given)
        if said is None:
            raise Refusal(str(self._data), "spyhole ended while it was asked", "ask again")
        return said


def answering(records: FiringRecords, data: Path) -> Act:
    """What the daemon does for the command."""
    place = data / FOLDER

    def do(given: Given) -> str:
        try:
            if given["do"] == "kilns":
                return json.dumps(records.kilns())
            if given["do"] == "list":
                before = int(given["before"]) if given["before"] else None
                found = records.firings(given["kiln"], LIST_AT_ONCE, before)
                return json.dumps([(one.id, one.started_utc_ms) for one in found])
            shutil.rmtree(place, ignore_errors=True)
            if given["do"] == "over":
                return ""
            manner = manner_of(given["zone"], given["unit"])
            raw = write_firing(records, given["kiln"], int(given["firing"]), place, manner)
        except ArchiveTrouble as trouble:
            raise Refusal("export", str(trouble)) from None
        except OSError as error:
            raise Refusal(str(place), f"the daemon cannot write here ({error.strerror})", "make room") from None
        return "readings" if raw else "minutes"

    return do


def manner_of(zone: str, unit: str) -> Manner:
    """How sentences are said. Refusal."""
    try:
        return Manner(ZoneInfo(zone), unit)
    except (OSError, ValueError, KeyError):
        raise Refusal("--zone", f"{zone!r} is no time zone", "for example Europe/Dublin") from None


def export(data: Path, address: str, out: Path, firing: int | None, manner: Manner) -> int:
    """Write all firings, or one, into this new folder or .zip. Refusal, and then nothing is there."""
    if out.exists() and (out.is_file() or any(out.iterdir())):
        raise Refusal(str(out), "something is there already", "name a folder or a .zip that is not there yet")
    try:
        if not address and ask(data, ACT, {"do": "kilns"}) is not None:
            done = _export(Asked(data, manner), out, firing, manner)
        else:
            with location_of(data, address).read() as records:
                done = _export(Own(records, manner), out, firing, manner)
    except OSError as error:
        raise Refusal(str(out), f"it cannot be written there ({error.strerror})", "make room, or elsewhere") from None
    except ArchiveTrouble as trouble:
        raise Refusal(str(data), str(trouble)) from None
    minutes = f", {done.by_minute} of them by the minute" if done.by_minute else ""
    print(f"{out}: {done.firings} firing{'' if done.firings == 1 else 's'}{minutes}.")
    return 0


@dataclass(slots=True)
class _Done:
    firings: int = 0
    by_minute: int = 0


def _export(source: Source, out: Path, firing: int | None, manner: Manner) -> _Done:
    done = _Done()
    say = on_terminal("{} firings")
    with tempfile.TemporaryDirectory(prefix=f".{out.name}-", dir=out.absolute().parent) as aside:
        home = Path(aside) / "all"
        home.mkdir()
        (home / README).write_text(_ALL_WORDS, encoding="utf-8")
        packed = zipfile.ZipFile(Path(aside) / "zip", "w", zipfile.ZIP_DEFLATED) if out.suffix == ".zip" else None
        try:
            for line in source.lines():
                if firing is not None and line.firing != firing:
                    continue
                folder = _free_name(home, line)
                raw = source.write(line, folder)
                _judge(folder, raw, manner)
                done.firings += 1
                done.by_minute += not raw
                if packed is not None:
                    _pack(packed, folder, home)
                say(done.firings)
            if not done.firings:
                problem = "the kiln book is empty" if firing is None else f"there is no firing {firing}"
                raise Refusal("--firing" if firing is not None else str(out), problem)
            if packed is not None:
                packed.write(home / README, README)
        finally:
            if packed is not None:
                packed.close()
        os.replace(home if packed is None else Path(aside) / "zip", out)
    return done


def _free_name(home: Path, line: Line) -> Path:
    kiln = re.sub(r"\W+", "-", line.kiln).strip("-") or "kiln"
    day = datetime.fromtimestamp(line.started_utc_ms / 1000, UTC)
    name = f"{kiln}-{day:%Y-%m-%dT%H-%M}"
    return home / (f"{name}-{line.firing}" if (home / name).exists() else name)


def _judge(folder: Path, raw: bool, manner: Manner) -> None:
    """What the watch says of these very files; of minutes, what it said when it had the readings."""
    if raw:
        files = Files(folder / READINGS, folder / KILN, folder / PLAN, folder / ENTRIES)
        replay_files(files, folder / OUTCOMES, manner)
    else:
        os.replace(folder / TOLD, folder / OUTCOMES)
        (folder / README).write_text(_MINUTE_WORDS, encoding="utf-8")


def _pack(packed: zipfile.ZipFile, folder: Path, home: Path) -> None:
    """Into the zip and away; an empty folder keeps the name taken."""
    for file in sorted(folder.iterdir()):
        packed.write(file, str(file.relative_to(home)))
    shutil.rmtree(folder)
    folder.mkdir()
