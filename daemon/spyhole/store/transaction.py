"""What is held, written in one transaction.

Everything here may be done twice with the same end: when a commit has failed nobody can tell whether the card kept
it, and the same is written again. That two different rows never have one place is seen to at the door (`archive`).
"""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Delete, Insert, Table, bindparam, column, delete, func, insert, select, update
from sqlalchemy.dialects import sqlite

from spyhole.core.journal import Clock, Row
from spyhole.core.reading import Reading
from spyhole.services.archive import Checkpoint, Firing
from spyhole.services.people import People
from spyhole.store import tables
from spyhole.store.encoding import Columns, minute_columns, reading_columns
from spyhole.store.held import Delivery, Held
from spyhole.store.mending import set_clock
from spyhole.store.tables import place

if TYPE_CHECKING:
    from sqlalchemy.dialects import postgresql

CHECKPOINTS_KEPT = 3
"""A kiln; an older one is there for when the newest does not fit."""


def _too_many() -> Delete:
    """Checkpoints of a kiln, from first to last place, that need not stay. Made once: it is wanted each minute."""
    key = tables.checkpoint.c.place
    of_kiln = key.between(bindparam("first"), bindparam("last"))
    kept = select(key).where(of_kiln).order_by(key.desc()).limit(CHECKPOINTS_KEPT).subquery()
    return delete(tables.checkpoint).where(of_kiln, key < select(func.min(kept.c.place)).scalar_subquery())


_TOO_MANY = _too_many()


class Names:
    """Ids of kilns and boots, given when first met. Good for as long as the transactions that gave them commit."""

    def __init__(self, connection: Connection) -> None:
        self._kilns = _by_name(connection, tables.kiln)
        self._boots = _by_name(connection, tables.boot)

    def kiln(self, connection: Connection, name: str) -> int:
        """The id of this kiln."""
        return self._id(connection, self._kilns, insert(tables.kiln).values(name=name), name)

    def boot(self, connection: Connection, name: str) -> int:
        """The id of this boot."""
        return self._id(connection, self._boots, insert(tables.boot).values(name=name, synchronised=False), name)

    def _id(self, connection: Connection, known: dict[str, int], new: Insert, name: str) -> int:
        if name not in known:
            (known[name],) = connection.execute(new.returning(column("id"))).one()
        return known[name]


def _by_name(connection: Connection, table: Table) -> dict[str, int]:
    return {name: number for number, name in connection.execute(select(table.c.id, table.c.name))}


def write(connection: Connection, held: Held, names: Names) -> None:
    """Write all that is held. The caller begins and commits."""

    def key(row: Row) -> Columns:
        return {
            "place": place(names.kiln(connection, row.kiln), row.sequence),
            "boot": names.boot(connection, row.boot),
            "monotonic_ms": row.monotonic_ms,
        }

    _add(
        connection,
        tables.reading,
        [key(row) | reading_columns(row.told) for row in held.readings if isinstance(row.told, Reading)],
    )
    _add(
        connection,
        tables.journal,
        [key(line.row) | {"kind": line.kind, "payload": line.payload} for line in held.journal],
    )
    for line in held.journal:
        if isinstance(line.row.told, Clock):
            set_clock(connection, names.boot(connection, line.row.boot), line.row.monotonic_ms, line.row.told)
    _add(
        connection,
        tables.outcome,
        [
            key(line.row) | {"ordinal": line.ordinal, "kind": line.kind, "tag": line.tag, "payload": line.payload}
            for line in held.outcomes
        ],
    )
    _add(
        connection,
        tables.minute,
        [
            {
                "place": place(names.kiln(connection, minute.kiln), minute.sequence),
                "boot": names.boot(connection, minute.boot),
                "monotonic_ms": minute.monotonic_ms,
                "firing": minute.firing,
                "stage": minute.stage,
            }
            | minute_columns(minute.rings, minute.ceiling_celsius)
            for minute in held.minutes
        ],
    )
    for firing in held.firings.values():
        _put_firing(connection, names.kiln(connection, firing.kiln), firing)
    for checkpoint in held.checkpoints.values():
        _put_checkpoint(connection, names.kiln(connection, checkpoint.kiln), checkpoint)
    _add(
        connection,
        tables.message,
        [
            {
                "key": message.key,
                "recipient": message.recipient,
                "title": message.title,
                "text": message.text,
                "urgent": message.urgent,
                "created_utc_ms": message.created_utc_ms,
                "state": "pending",
                "attempts": 0,
                "last_error": "",
            }
            for message in held.messages
        ],
    )
    _add(connection, tables.photo, [{"name": photo.name, "jpeg": photo.jpeg} for photo in held.photos])
    for delivery in held.deliveries:
        _note_delivery(connection, delivery)
    if held.people is not None:
        _put_people(connection, held.people)


def _add(connection: Connection, table: Table, rows: Sequence[Mapping[str, object]]) -> None:
    if rows:
        connection.execute(_insert(connection, table).on_conflict_do_nothing(), rows)


def _insert(connection: Connection, table: Table) -> "sqlite.Insert | postgresql.Insert":
    """Both know what to do with a key that is there already, and each says it its own way."""
    if connection.dialect.name != "postgresql":
        return sqlite.insert(table)
    from sqlalchemy.dialects import postgresql  # 2 MB, which only who has a server needs

    return postgresql.insert(table)


def _put_firing(connection: Connection, kiln: int, firing: Firing) -> None:
    summary = firing.summary
    values = {
        "plan": summary.plan,
        "cone": summary.cone,
        "started_utc_ms": summary.started_utc_ms,
        "ended_utc_ms": summary.ended_utc_ms,
        "tripped_utc_ms": summary.tripped_utc_ms,
        "peak_celsius": summary.peak_celsius,
        "cone_progress": summary.cone_progress,
        "alarms": summary.alarms,
        "plan_toml": firing.plan_toml,
        "kiln_toml": firing.kiln_toml,
    }
    new = _insert(connection, tables.firing).values(place=place(kiln, summary.id), **values)
    connection.execute(new.on_conflict_do_update(index_elements=[tables.firing.c.place], set_=values))


def _put_checkpoint(connection: Connection, kiln: int, checkpoint: Checkpoint) -> None:
    values = {"version": checkpoint.version, "blob": checkpoint.blob}
    new = _insert(connection, tables.checkpoint).values(place=place(kiln, checkpoint.sequence), **values)
    connection.execute(new.on_conflict_do_update(index_elements=[tables.checkpoint.c.place], set_=values))
    connection.execute(_TOO_MANY, {"first": place(kiln, 0), "last": place(kiln + 1, 0) - 1})


def _note_delivery(connection: Connection, delivery: Delivery) -> None:
    message = tables.message
    connection.execute(
        update(message)
        .where(message.c.key == delivery.key)
        .values(
            state=delivery.state,
            attempts=message.c.attempts + 1,
            last_error=delivery.error,
            done_utc_ms=delivery.utc_ms or None,
        )
    )


def _put_people(connection: Connection, people: People) -> None:
    """All of them anew: they are few, and seldom change."""
    connection.execute(delete(tables.channel))
    connection.execute(delete(tables.person))
    _add(
        connection,
        tables.person,
        [
            {
                "name": person.name,
                "ordinal": at,
                "role": person.role.value,
                "quiet_from": person.quiet and person.quiet[0],
                "quiet_to": person.quiet and person.quiet[1],
                "report": person.report,
            }
            for at, person in enumerate(people.everybody)
        ],
    )
    _add(
        connection,
        tables.channel,
        [
            {
                "person": person.name,
                "name": channel.name,
                "ordinal": at,
                "address": channel.address,
                "loud": channel.loud,
                "rang": channel.rang.value,
                "rang_utc_ms": channel.rang_utc_ms,
            }
            for person in people.everybody
            for at, channel in enumerate(person.channels)
        ],
    )
