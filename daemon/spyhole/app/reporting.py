"""`spyhole report`: a firing on paper. Where a daemon has the record, it makes the report; else the command itself."""

import os
import pickle
import subprocess
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from spyhole.app.hatch import Act, Given, ask
from spyhole.app.settings import read_settings
from spyhole.core.refusal import Refusal
from spyhole.core.report.report import Report
from spyhole.core.report.tariff import Tariff
from spyhole.core.words import Manner
from spyhole.services.archive import ArchiveTrouble
from spyhole.services.reporting import Form, Paper, Reporter, Reporting
from spyhole.store.location import location_of

ACT = "report"
FOLDER = "reports"
LATEST = "latest"
PRESS_SECONDS = 25.0


@dataclass(frozen=True, slots=True)
class Wish:
    """What the command was told. firing: a number or `latest`. config None: the data folder alone."""

    firing: str
    out: Path
    data: Path
    config: Path | None
    kiln: str
    paper: Paper
    zone: str
    unit: str


def report(wish: Wish) -> int:
    """Make the report and say where it is. Refusal."""
    form = _form(wish.out)
    firing = _number(wish.firing)
    data, database, tariff, kiln, manner = _place(wish)
    given = {"firing": wish.firing, "form": form, "paper": wish.paper}
    said = ask(data, ACT, given)
    if said is not None:
        made = data / FOLDER / said
        content = _read(made)
        with suppress(OSError):
            made.unlink()
    else:
        from spyhole.reports.press import press

        with location_of(data, database).read() as records:
            name = kiln or _only(records.kilns(), data)
            try:
                content = Reporter(records, name, manner, tariff, press).report(firing, form, wish.paper).content
            except ArchiveTrouble as trouble:
                raise Refusal(str(data), str(trouble)) from None
    _write(wish.out, content)
    print(f"{wish.out}: {len(content):,} bytes")
    return 0


def answering(reporter: Reporting, data: Path) -> Act:
    """What the daemon does for the command: the report as a file of the data folder, whose name it says."""

    def act(given: Given) -> str:
        sheet = reporter.report(_number(given["firing"]), Form(given["form"]), Paper(given["paper"]))
        folder = data / FOLDER
        folder.mkdir(exist_ok=True)
        _write(folder / sheet.name, sheet.content)
        return sheet.name

    return act


def press_beside(report: Report, form: Form, manner: Manner, paper: Paper) -> bytes:
    """Set it in a process of its own where something has to be drawn; for the daemon. Refusal when that fails."""
    if form in (Form.CSV, Form.JSON):
        from spyhole.reports.press import press

        return press(report, form, manner, paper)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "spyhole.app.pressing"],
            input=pickle.dumps((report, form, manner, paper)),
            capture_output=True,
            timeout=PRESS_SECONDS,
            check=True,
        )
    except (OSError, subprocess.SubprocessError) as error:
        problem = f"the page could not be drawn ({type(error).__name__})"
        raise Refusal("report", problem, "the watch goes on; try again, or ask for csv") from None
    return done.stdout


def _form(out: Path) -> Form:
    try:
        return Form(out.suffix.lower().removeprefix("."))
    except ValueError:
        raise Refusal("--out", f"{out.name!r} is no form of a report", f"it ends in .{', .'.join(Form)}") from None


def _number(text: str) -> int | None:
    if text == LATEST:
        return None
    if not (text.isascii() and text.isdigit()):
        raise Refusal("report", f"{text!r} is no firing", "it is latest, or the number of a firing in the kiln book")
    return int(text)


def _place(wish: Wish) -> tuple[Path, str, Tariff | None, str, Manner]:
    """Data folder, database, tariff, kiln and manner: by the settings where there are some, else as told."""
    if wish.config is not None:
        settings = read_settings(wish.config)
        manner = Manner(ZoneInfo(settings.zone), settings.unit)
        return settings.data, settings.database, settings.cost, settings.kiln.name, manner
    try:
        return wish.data, "", None, wish.kiln, Manner(ZoneInfo(wish.zone), wish.unit)
    except (OSError, ValueError, KeyError):
        raise Refusal("--zone", f"{wish.zone!r} is no time zone", "for example Europe/Dublin") from None


def _only(kilns: list[str], data: Path) -> str:
    if len(kilns) == 1:
        return kilns[0]
    if not kilns:
        raise Refusal(str(data), "no kiln is in this record", "a report needs a firing")
    raise Refusal(str(data), "several kilns are in this record", f"say --kiln, one of {', '.join(kilns)}")


def _read(made: Path) -> bytes:
    try:
        return made.read_bytes()
    except OSError as error:
        raise Refusal(str(made), f"what the daemon made cannot be read ({error.strerror})", "ask as its user") from None


def _write(out: Path, content: bytes) -> None:
    """There whole or not at all."""
    aside = out.with_name(out.name + ".part")
    try:
        aside.write_bytes(content)
        os.replace(aside, out)
    except OSError as error:
        with suppress(OSError):
            aside.unlink()
        raise Refusal(str(out), f"the report cannot be written there ({error.strerror})") from None
