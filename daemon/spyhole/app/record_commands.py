"""The commands that bring things into the record and out of it; see `app.commands`."""

import argparse
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from spyhole.core.forms.foreign.layout import Same, TempUnit, TimeForm
from spyhole.core.refusal import Refusal

Added = Callable[[str, str, str], argparse.ArgumentParser]
"""Adds a command: its name, what it does, an example."""


def add_record_commands(added: Added, folder: Path) -> None:
    """import, export, backup, restore. folder: where the record is when nothing else is said."""
    _import(added, folder)
    _backup(added, folder)
    _restore(added)
    _export(added, folder)


def _import(added: Added, folder: Path) -> None:
    parser = added(
        "import",
        "bring a firing that another logger recorded into the kiln book",
        "spyhole import old.csv --kiln puffin.toml --plan bisque.toml --zone Europe/Dublin --unit degC --preview",
    )
    parser.add_argument("readings", type=Path, help="CSV, any separator; a ring a column, or a ring a row")
    parser.add_argument("--kiln", type=Path, required=True, metavar="FILE", help="the kiln, TOML")
    parser.add_argument("--plan", type=Path, required=True, metavar="FILE", help="the plan it followed, TOML")
    parser.add_argument("--entries", type=Path, metavar="FILE", help="what people wrote down, CSV")
    parser.add_argument("--data", type=Path, default=folder, metavar="DIR", help="where the record is (%(default)s)")
    parser.add_argument("--preview", action="store_true", help="say how the file is understood, and keep nothing")
    how = parser.add_argument_group("how the file is laid out, where it does not show it by itself")
    how.add_argument("--zone", default="", metavar="ZONE", help="where the logger's clock was set to: Europe/Dublin")
    how.add_argument("--unit", type=TempUnit, choices=list(TempUnit), help="of the temperatures")
    how.add_argument("--ring", action="append", default=[], metavar="RING=COLUMN", help="once for each ring")
    how.add_argument(
        "--time", action="append", default=[], metavar="COLUMN", help="of the time; twice for date and time"
    )
    how.add_argument("--time-form", type=TimeForm, choices=list(TimeForm), metavar="FORM", help=", ".join(TimeForm))
    how.add_argument("--start", default="", metavar="TIME", help="of a file whose times count from the start")
    how.add_argument("--separator", default="", metavar="CHAR", help="between cells; tab for a tab")
    how.add_argument("--ring-column", default="", metavar="COLUMN", help="in a file with a ring a row: who it is about")
    how.add_argument("--value-column", default="", metavar="COLUMN", help="and what it says")
    how.add_argument(
        "--same", type=Same, choices=list(Same), default=Same.REFUSE, help="rows of one instant that differ"
    )

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.importing import Wish, bring
        from spyhole.core.forms.foreign.guess import Said

        said = Said(
            zone=wish.zone,
            unit=wish.unit,
            time_form=wish.time_form,
            start_utc_ms=_start(wish.start, wish.zone),
            delimiter="\t" if wish.separator == "tab" else wish.separator,
            time=tuple(wish.time),
            rings=dict(_pair(text) for text in wish.ring),
            ring_column=wish.ring_column,
            value_column=wish.value_column,
            same=wish.same,
        )
        return bring(Wish(wish.readings, wish.kiln, wish.plan, wish.entries, wish.data, said, wish.preview))

    parser.set_defaults(run=run)


def _backup(added: Added, folder: Path) -> None:
    parser = added(
        "backup",
        "keep the whole record in one file, also while spyhole watches",
        "spyhole backup --config /etc/spyhole/spyhole.toml\n"
        "  spyhole backup --data /var/lib/spyhole --out /media/stick/puffin.zip",
    )
    _where(parser, folder)
    parser.add_argument("--out", type=Path, metavar="FILE", help="else under a name of its own in the data folder")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.backing_up import backup

        data, address = _place(wish)
        return backup(data, wish.out, elsewhere=bool(address))

    parser.set_defaults(run=run)


def _restore(added: Added) -> None:
    parser = added(
        "restore",
        "make a record of a backup, on this or another Pi; the one that is there is kept aside",
        "spyhole restore record-2031-10-30T03-35-00Z.zip --data /var/lib/spyhole",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="a backup")
    parser.add_argument("--data", type=Path, required=True, metavar="DIR", help="where the record shall be")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.backing_up import bring_back

        return bring_back(wish.file, wish.data)

    parser.set_defaults(run=run)


def _export(added: Added, folder: Path) -> None:
    parser = added(
        "export",
        "write firings as files that anybody can read",
        "spyhole export --config /etc/spyhole/spyhole.toml --out firings.zip\n"
        "  spyhole export --data /var/lib/spyhole --out last-bisque --firing 81204",
    )
    _where(parser, folder)
    parser.add_argument("--out", type=Path, required=True, metavar="PATH", help="a new folder, or a new .zip")
    parser.add_argument("--firing", type=int, metavar="ID", help="one firing instead of all, by its number in the book")
    parser.add_argument("--zone", default="", help="time zone of the sentences (the settings' own, or UTC)")
    parser.add_argument("--unit", choices=("degC", "degF"), default="", help="of the sentences (likewise, or degC)")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.exporting import export, manner_of

        zone, unit = "UTC", "degC"
        if wish.config is not None:
            from spyhole.app.settings import read_settings

            settings = read_settings(wish.config)
            zone, unit = settings.zone, settings.unit
        manner = manner_of(wish.zone or zone, wish.unit or unit)
        return export(*_place(wish), wish.out, wish.firing, manner)

    parser.set_defaults(run=run)


def _where(parser: argparse.ArgumentParser, folder: Path) -> None:
    parser.add_argument("--config", type=Path, metavar="FILE", help="settings, TOML, that say where the record is")
    parser.add_argument("--data", type=Path, default=folder, metavar="DIR", help="or where it is (%(default)s)")


def _place(wish: argparse.Namespace) -> tuple[Path, str]:
    """The data folder, and the address of a database where the settings name one."""
    if wish.config is None:
        return wish.data, ""
    from spyhole.app.settings import read_settings

    settings = read_settings(wish.config)
    return settings.data, settings.database


def _pair(text: str) -> tuple[str, str]:
    ring, equals, column = text.partition("=")
    if not (ring and equals and column):
        raise Refusal("--ring", f"{text!r} names no ring and column", "for example --ring bottom=T1")
    return ring, column


def _start(text: str, zone: str) -> int | None:
    if not text:
        return None
    try:
        stamp = datetime.fromisoformat(text)
        stamp = stamp if stamp.tzinfo else stamp.replace(tzinfo=ZoneInfo(zone) if zone else None)
    except (ValueError, OSError):
        stamp = None
    if stamp is None or stamp.tzinfo is None:
        allowed = "for example 2031-10-30T19:41 with --zone, or 2031-10-30T19:41:00Z"
        raise Refusal("--start", f"{text!r} is no time with its zone", allowed)
    return round(stamp.astimezone(UTC).timestamp() * 1000)
