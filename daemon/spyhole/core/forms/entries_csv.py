"""What people write down, checked: the entries file, and the same check for an entry from the page."""

import re
from collections.abc import Iterable

from spyhole.core.care import Care
from spyhole.core.cones.kinetics import cone_names
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.forms.csv_lines import parted_otherwise, rows, short, utc_ms_at
from spyhole.core.forms.jpeg import PHOTO_NAME
from spyhole.core.kiln import Kiln, Switch
from spyhole.core.plan import Plan, Plugs
from spyhole.core.refusal import Refusal

HEADER = "time,kind,subject,value"

LONGEST_TIMER_MINUTES = 1440
MOST_BEND_DEGREES = 120
_LONGEST_NOTE = 500
_LONGEST_NAME = 60

_WORDS: dict[EntryKind, tuple[str, ...]] = {
    EntryKind.SWITCH: tuple(Switch),
    EntryKind.PLUGS: tuple(Plugs),
    EntryKind.LID: ("closed", "cracked", "propped", "open"),
    EntryKind.SHUTOFF: ("tripped", "armed"),
    EntryKind.POWER: ("lost", "back"),
    EntryKind.MAINTENANCE: tuple(Care),
    EntryKind.LESSON: ("keep", "leave"),
}
_NEEDS_RING = (EntryKind.SWITCH, EntryKind.CONE)
_MAY_NAME_RING = (EntryKind.PLUGS, EntryKind.NOTE, EntryKind.MAINTENANCE)
_NUMBER = re.compile(r"\d{1,6}(\.\d{1,6})?")


def entries(lines: Iterable[str], file: str, kiln: Kiln, plan: Plan) -> list[tuple[int, Entry]]:
    """(utc_ms, entry) of each row, in the order of the rows; Refusal naming file and line."""
    source = rows(lines, file, HEADER)
    line, cells = next(source)
    if cells != HEADER.split(","):
        found = f"the header reads {short(','.join(cells))}{parted_otherwise(cells)}"
        raise Refusal(f"{file} line {line}", found, f"it is {HEADER}")
    taken = []
    for line, cells in source:
        where = f"{file} line {line}"
        if len(cells) != 4:
            raise Refusal(where, f"it has {len(cells)} cells and the header 4", "a value with a comma stands in quotes")
        time, kind, subject, value = cells
        utc_ms = utc_ms_at(time, file, line)
        taken.append((utc_ms, check_entry(kind, subject, value, "", kiln, plan, f"{where}, ")))
    return taken


def check_entry(kind: str, subject: str, value: str, who: str, kiln: Kiln, plan: Plan, where: str = "") -> Entry:
    """The entry in these words, as the watch wants it; Refusal naming the field, with `where` before it.

    Minutes become whole; an empty cone at the start is the plan's. An entry may contradict the plan: people do.
    """
    if kind not in list(EntryKind):
        raise Refusal(f"{where}kind", f"{short(kind)} is no entry", f"it is one of {', '.join(EntryKind)}")
    checked = EntryKind(kind)
    _check_subject(checked, subject, kiln, where)
    if len(who) > _LONGEST_NAME or not who.isprintable():
        raise Refusal(f"{where}who", "this is no name", f"it is at most {_LONGEST_NAME} characters on one line")
    return Entry(checked, subject, _checked_value(checked, value.strip(), plan, f"{where}value"), who)


def _check_subject(kind: EntryKind, subject: str, kiln: Kiln, where: str) -> None:
    names = ", ".join(ring.name for ring in kiln.rings)
    if any(subject == ring.name for ring in kiln.rings) and kind in (*_NEEDS_RING, *_MAY_NAME_RING):
        return
    if kind in _NEEDS_RING:
        raise Refusal(f"{where}subject", f"no ring is called {short(subject)}", f"{kind} wants one of {names}")
    if subject:
        allowed = f"it is empty or one of {names}" if kind in _MAY_NAME_RING else "it stays empty"
        raise Refusal(f"{where}subject", f"{short(subject)} is no subject of {kind}", allowed)


def _checked_value(kind: EntryKind, value: str, plan: Plan, where: str) -> str:
    if kind in _WORDS:
        if value not in _WORDS[kind]:
            raise Refusal(where, f"{short(value)} is no setting of {kind}", f"it is one of {', '.join(_WORDS[kind])}")
        return value
    if kind is EntryKind.TIMER:
        if not _NUMBER.fullmatch(value) or not float(value) <= LONGEST_TIMER_MINUTES:
            allowed = f"it is minutes from now, 0 to {LONGEST_TIMER_MINUTES}"
            raise Refusal(where, f"{short(value)} is not what a timer can be wound to", allowed)
        return str(round(float(value)))
    if kind is EntryKind.START:
        return _checked_cone(value or plan.cone, where)
    if kind is EntryKind.CONE:
        name, _, bend = value.partition(":")
        if bend not in ("down", "flat") and not (_NUMBER.fullmatch(bend) and float(bend) <= MOST_BEND_DEGREES):
            allowed = f"it is CONE:BEND, BEND 0 to {MOST_BEND_DEGREES} degrees, down or flat, for example 06:down"
            raise Refusal(where, f"{short(value)} says no cone and how far it has bent", allowed)
        return f"{_checked_cone(name, where)}:{bend}"
    if kind is EntryKind.PHOTO:
        if not PHOTO_NAME.fullmatch(value):
            raise Refusal(where, f"{short(value)} names no photograph", "it is the name that taking one gave")
        return value
    if not value or len(value) > _LONGEST_NOTE:
        raise Refusal(where, "a note says something", f"it is 1 to {_LONGEST_NOTE} characters")
    return value


def _checked_cone(name: str, where: str) -> str:
    if name not in cone_names():
        raise Refusal(where, f"there is no cone {short(name)}", f"the cones are {', '.join(cone_names())}")
    return name
