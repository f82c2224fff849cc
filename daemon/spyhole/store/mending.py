"""What a clock row says of a boot, of the boots before it that never learned the time, and of their lines in the book.

No row is rewritten: a boot's offset to UTC and the kiln book are conclusions, made from the rows, and `core.timeline`
concludes the same. Doing it twice changes nothing.
"""

from sqlalchemy import Connection, func, select, update

from spyhole.core.journal import Clock
from spyhole.core.timeline import LONGEST_GAP_MS
from spyhole.store import tables

WORTH_MENDING_MS = 2_000
"""A clock that is only drawn nearer moves nothing that a person would notice."""


def set_clock(connection: Connection, boot: int, monotonic_ms: int, clock: Clock) -> None:
    """A clock that was set by a time source beats one that was not; among equals the latest is right."""
    known = connection.execute(
        select(tables.boot.c.utc_offset_ms, tables.boot.c.synchronised).where(tables.boot.c.id == boot)
    ).one()
    if known.synchronised and not clock.synchronised:
        return
    offset_ms = clock.utc_ms - monotonic_ms
    if (offset_ms, clock.synchronised) == (known.utc_offset_ms, known.synchronised):
        return
    connection.execute(
        update(tables.boot)
        .where(tables.boot.c.id == boot)
        .values(utc_offset_ms=offset_ms, synchronised=clock.synchronised)
    )
    before = known.utc_offset_ms
    if before is None or abs(offset_ms - before) >= WORTH_MENDING_MS:
        if before is not None:
            _move_book(connection, boot, offset_ms - before)
        _mend_earlier(connection, boot, before, offset_ms)


def _mend_earlier(connection: Connection, boot: int, before_ms: int | None, offset_ms: int) -> None:
    """Boots that ended without a clock hang on the one after them: by their own clock where that can be right."""
    boots = tables.boot.c
    earlier = connection.execute(
        select(boots.id, boots.utc_offset_ms, boots.synchronised).where(boots.id < boot).order_by(boots.id.desc())
    )
    for older in earlier.all():
        if older.synchronised or older.utc_offset_ms is None:
            return
        began, ended = _first_ms(connection, boot), _last_ms(connection, older.id)
        if began is None or ended is None:
            return
        as_was = offset_ms if before_ms is None else before_ms
        gap_ms = began + as_was - ended - older.utc_offset_ms
        if 0 <= gap_ms <= LONGEST_GAP_MS:
            mended = older.utc_offset_ms + offset_ms - as_was
        else:
            mended = offset_ms + began - ended
        if mended == older.utc_offset_ms:
            return
        connection.execute(update(tables.boot).where(boots.id == older.id).values(utc_offset_ms=mended))
        _move_book(connection, older.id, mended - older.utc_offset_ms)
        boot, before_ms, offset_ms = older.id, older.utc_offset_ms, mended


def _first_ms(connection: Connection, boot: int) -> int | None:
    journal = tables.journal.c
    found: int | None = connection.scalar(select(func.min(journal.monotonic_ms)).where(journal.boot == boot))
    return found


def _last_ms(connection: Connection, boot: int) -> int | None:
    journal, reading = tables.journal.c, tables.reading.c
    told = connection.scalar(select(func.max(journal.monotonic_ms)).where(journal.boot == boot))
    # From the end, because the boot that asks has only just begun.
    last = select(reading.monotonic_ms).where(reading.boot == boot).order_by(reading.place.desc()).limit(1)
    seen = connection.scalar(last)
    return max((at for at in (told, seen) if at is not None), default=None)


def _move_book(connection: Connection, boot: int, by_ms: int) -> None:
    """The firings begun in this boot. The one under way is put again by the watch, which knows better."""
    firing, journal = tables.firing, tables.journal
    begun = select(firing.c.place).join(journal, journal.c.place == firing.c.place).where(journal.c.boot == boot)
    moved = {name: firing.c[name] + by_ms for name in ("started_utc_ms", "ended_utc_ms", "tripped_utc_ms")}
    connection.execute(update(firing).where(firing.c.place.in_(begun)).values(moved))
