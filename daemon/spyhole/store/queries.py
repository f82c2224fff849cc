"""Reading the record. Each call takes a read-only connection of its own and sees one instant of what is committed."""

from sqlalchemy import func, select

from spyhole.services.archive import Message, PendingMessage
from spyhole.services.people import Channel, People, Person, Rang, Role
from spyhole.store import tables
from spyhole.store.firing_queries import FiringQueries
from spyhole.store.journal_queries import JournalQueries


class SqlRecords(JournalQueries, FiringQueries):
    """`services.archive.Records` on a database."""

    def kilns(self) -> list[str]:
        with self.reading() as connection:
            return list(connection.scalars(select(tables.kiln.c.name).order_by(tables.kiln.c.id)))

    def photo(self, name: str) -> bytes | None:
        with self.reading() as connection:
            found: bytes | None = connection.scalar(select(tables.photo.c.jpeg).where(tables.photo.c.name == name))
        return found

    def pending_messages(self) -> list[PendingMessage]:
        message = tables.message
        with self.reading() as connection:
            return [
                PendingMessage(
                    Message(row.key, row.recipient, row.title, row.text, row.urgent, row.created_utc_ms),
                    row.attempts,
                    row.last_error,
                )
                for row in connection.execute(
                    select(message).where(message.c.state == "pending").order_by(message.c.id)
                )
            ]

    def told_keys(self, newest: int) -> list[str]:
        message = tables.message.c
        with self.reading() as connection:
            found = connection.scalars(select(message.key).order_by(message.id.desc()).limit(newest))
            return list(found)[::-1]

    def last_told(self) -> dict[str, int]:
        message = tables.message.c
        accepted = select(message.recipient, func.max(message.done_utc_ms)).where(message.done_utc_ms.is_not(None))
        with self.reading() as connection:
            return {row[0]: row[1] for row in connection.execute(accepted.group_by(message.recipient))}

    def people(self) -> People:
        person, channel = tables.person, tables.channel
        with self.reading() as connection:
            ways: dict[str, list[Channel]] = {}
            for row in connection.execute(select(channel).order_by(channel.c.ordinal)):
                way = Channel(row.name, row.address, row.loud, Rang(row.rang), row.rang_utc_ms)
                ways.setdefault(row.person, []).append(way)
            return People(
                tuple(
                    Person(
                        row.name,
                        Role(row.role),
                        tuple(ways.get(row.name, ())),
                        None if row.quiet_from is None else (row.quiet_from, row.quiet_to),
                        row.report,
                    )
                    for row in connection.execute(select(person).order_by(person.c.ordinal))
                )
            )

    def integrity_check(self) -> list[str]:
        if self._reader.dialect.name != "sqlite":
            return []  # a server looks after its own files
        with self.reading() as connection:
            found = [str(line) for line in connection.exec_driver_sql("PRAGMA integrity_check").scalars()]
            return [] if found == ["ok"] else found
