"""What can be wrong with the disk or the database, in a sentence for the person beside the kiln."""

import sqlite3
from dataclasses import dataclass

from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError

_HELD = "Readings, entries and alarms are held in memory and the watch goes on; a power cut now would lose them."
_CATCHES_UP = "The record then catches up by itself."


@dataclass(frozen=True, slots=True)
class Trouble:
    """A condition of the record: its code, and the words that say what, what it means and what to do."""

    code: str
    words: str


FULL = Trouble("watch-disk", f"The disk is full. {_HELD} Make room on the card. {_CATCHES_UP}")
READ_ONLY = Trouble(
    "watch-disk",
    f"The disk takes no writes: it is read-only. {_HELD} Keep the machine running until the kiln is cool, "
    "then restart it and look at the card; a card that does this again is worn out.",
)
UNKEPT = Trouble(
    "watch-disk",
    "The disk takes no writes: it was read-only when the watch began. No record is kept. The watch goes on in memory, "
    "with what the card still tells, and all that comes now is lost when the machine is switched off: write down what "
    "matters. Once the kiln is cool, put in a new card and the last backup.",
)
DISK_ERROR = Trouble(
    "watch-disk",
    f"The disk gives errors. {_HELD} Keep the machine running until the kiln is cool, then change the card.",
)
GONE = Trouble(
    "watch-disk",
    f"The database cannot be opened: its folder is gone or closed to spyhole. {_HELD} "
    f"Put the folder back or mend its permissions. {_CATCHES_UP}",
)
LOCKED = Trouble(
    "watch-store",
    f"Another program keeps the database locked. {_HELD} Close what has it open. {_CATCHES_UP}",
)
DAMAGED = Trouble(
    "watch-store",
    f"The database is damaged. {_HELD} Once the kiln is cool, stop spyhole and put the last backup in its place.",
)

SERVER_GONE = Trouble(
    "watch-store",
    f"The database server does not answer. {_HELD} Look whether it runs and whether the network stands. {_CATCHES_UP}",
)
SERVER_FULL = Trouble("watch-disk", f"The disk of the database server is full. {_HELD} Make room there. {_CATCHES_UP}")
SERVER_READ_ONLY = Trouble(
    "watch-store", f"The database server takes no writes. {_HELD} Look what stands in the way there. {_CATCHES_UP}"
)

_BY_STATE = {"53100": SERVER_FULL, "25006": SERVER_READ_ONLY}
"""What PostgreSQL calls what went wrong: its manual, appendix A."""

_BY_CODE = {
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_READONLY: READ_ONLY,
    sqlite3.SQLITE_PERM: READ_ONLY,
    sqlite3.SQLITE_IOERR: DISK_ERROR,
    sqlite3.SQLITE_CANTOPEN: GONE,
    sqlite3.SQLITE_BUSY: LOCKED,
    sqlite3.SQLITE_LOCKED: LOCKED,
    sqlite3.SQLITE_CORRUPT: DAMAGED,
    sqlite3.SQLITE_NOTADB: DAMAGED,
}


def trouble_of(problem: Exception) -> Trouble:
    """The trouble behind an exception of the database."""
    cause = problem.orig if isinstance(problem, DBAPIError) else problem
    code = getattr(cause, "sqlite_errorcode", None)
    if code is not None and (known := _BY_CODE.get(code & 0xFF)):  # the low byte is the family
        return known
    if known := _BY_STATE.get(getattr(cause, "sqlstate", None) or ""):
        return known
    if isinstance(problem, OperationalError | InterfaceError) and code is None:
        return SERVER_GONE
    return Trouble(
        "watch-store",
        f"The database refuses what is written to it ({type(cause).__name__}: {cause}). {_HELD} "
        "Report this; until it is mended keep the machine running and go by what the page shows now.",
    )


def begun_anew(aside: str) -> Trouble:
    """Told of a record that was moved aside, until the next start."""
    return Trouble(
        "watch-store",
        f"The record was damaged. It was moved aside as {aside}, and a new one was begun. Readings and alarms go on, "
        "with what could be read of this firing. Once the kiln is cool, look at the card; "
        "earlier firings are in that file or in the last backup.",
    )


def thinned(trouble: Trouble) -> Trouble:
    """The same trouble, gone on for so long that readings had to be let go."""
    return Trouble(
        trouble.code,
        f"{trouble.words} It has lasted long: of the older readings held, some are let go; "
        "nothing that a person or an alarm did is.",
    )
