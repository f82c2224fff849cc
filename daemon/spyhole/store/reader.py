"""A connection to read by, and where a kiln's rows stand."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Self

from sqlalchemy import Connection, Engine, func, select
from sqlalchemy.exc import SQLAlchemyError

from spyhole.services.archive import ArchiveDamaged, ArchiveTrouble
from spyhole.store import tables
from spyhole.store.payload import UnreadablePayload
from spyhole.store.tables import IMPORTED, SEQUENCE_BITS, place
from spyhole.store.troubles import DAMAGED, trouble_of

LAST_SEQUENCE = IMPORTED - 1
"""Of the watch's own journal. Imported firings are beyond it."""
LAST_OF_ALL = (1 << SEQUENCE_BITS) - 1

# Where a boot never said what the wall clock shows, its own beginning stands for 1970: visibly wrong, never hidden.
UTC_MS = func.coalesce(tables.boot.c.utc_offset_ms, 0)


class Reader:
    """Each call has a read-only connection of its own and sees one instant of what is committed."""

    def __init__(self, engine: Engine) -> None:
        self._reader = engine

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close_reading()

    def close_reading(self) -> None:
        """Let go of the connections."""
        self._reader.dispose()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        try:
            with self._reader.begin() as connection:
                yield connection
        except SQLAlchemyError as problem:
            cause = getattr(problem, "orig", None) or problem
            raise (ArchiveDamaged if trouble_of(problem) == DAMAGED else ArchiveTrouble)(
                f"The record cannot be read just now ({cause}). The watch goes on; look at the disk."
            ) from problem
        except (UnreadablePayload, KeyError) as problem:
            raise ArchiveTrouble(
                f"The record holds something this spyhole cannot read ({problem}). A newer version wrote it, or it is "
                "damaged; the watch goes on from here."
            ) from problem


def number_of(connection: Connection, name: str) -> int:
    """Id of a kiln; 0, which none has, for one that is not in the record: all its queries find nothing."""
    return connection.scalar(select(tables.kiln.c.id).where(tables.kiln.c.name == name)) or 0


def span(connection: Connection, kiln: int, firing: int) -> tuple[int, int]:
    """First and last place of a firing: up to the start of the next, because cones are read after it has cooled."""
    at = tables.firing.c.place
    first = place(kiln, firing)
    following = connection.scalar(select(func.min(at)).where(at > first, at <= place(kiln, LAST_OF_ALL)))
    return first, place(kiln, LAST_OF_ALL) if following is None else following - 1
