"""The tables of the record, for SQLAlchemy Core. The migrations make them; a test holds the two equal.

Strategy: a *place* is a kiln and a sequence in one integer, the kiln in the high bits. It is the primary key of
everything a row brings, so that SQLite appends to the end of a plain table: measured at 1 Hz with three probes and a
commit every 10 s, half the writes of a key of two columns, whether WITHOUT ROWID or with an index beside it.
Temperatures are integers, multiples of 1/128 degC (the amplifier's own step), cold junctions of 1/64 degC.
"""

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    false,
    text,
)

SCHEMA = "0004"
"""Name of the newest migration: what a record must be at to be used."""

PROBES = 8
"""Columns for this many probes, and rings: the most a kiln has."""

SEQUENCE_BITS = 40
"""Room for 2**40 rows a kiln: 34,000 years at one a second."""

IMPORTED = 1 << (SEQUENCE_BITS - 1)
"""Sequences from here on are of imported firings, which are beside the journal of the watch and not in it."""

IMPORT_ROWS = 1 << 24
"""Room of one import: half a year of rows at one a second."""

# SQLite's row number is an INTEGER by that very name; other servers need the wider word.
_Big = BigInteger().with_variant(Integer(), "sqlite")


def place(kiln: int, sequence: int) -> int:
    """The key of a row: kiln is its id in the table of kilns."""
    return (kiln << SEQUENCE_BITS) | sequence


def sequence_of(place: int) -> int:
    """The sequence within its kiln."""
    return place & ((1 << SEQUENCE_BITS) - 1)


def _place() -> "Column[int]":
    return Column("place", _Big, primary_key=True, autoincrement=False)


def _moment() -> "tuple[Column[int], Column[int]]":
    return Column("boot", Integer, ForeignKey("boot.id"), nullable=False), Column("monotonic_ms", _Big, nullable=False)


metadata = MetaData()

kiln = Table(
    "kiln",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
)

boot = Table(
    "boot",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    # UTC less monotonic time by the best clock row of this boot: a synchronised one before any other, then the latest.
    Column("utc_offset_ms", _Big),
    Column("synchronised", Boolean, nullable=False),
)

reading = Table(
    "reading",
    metadata,
    _place(),
    *_moment(),
    Column("probes", Integer, nullable=False),
    Column("faults", _Big, nullable=False),  # four bits a probe, the first probe lowest; see encoding.FAULT_CODES
    *(Column(f"celsius_{n}", Integer) for n in range(1, PROBES + 1)),
    *(Column(f"cold_junction_{n}", Integer) for n in range(1, PROBES + 1)),
)

journal = Table(
    "journal",
    metadata,
    _place(),
    *_moment(),
    Column("kind", Text, nullable=False),
    Column("payload", Text, nullable=False),
)

outcome = Table(
    "outcome",
    metadata,
    _place(),
    Column("ordinal", Integer, primary_key=True, autoincrement=False),
    *_moment(),
    Column("kind", Text, nullable=False),
    Column("tag", Text, nullable=False),
    Column("payload", Text, nullable=False),
)

minute = Table(
    "minute",
    metadata,
    _place(),
    *_moment(),
    Column("firing", _Big, nullable=False),
    Column("stage", Text, nullable=False),
    Column("ceiling", Integer),
    Column("rings", Integer, nullable=False),
    *(Column(f"{what}_{n}", Integer) for n in range(1, PROBES + 1) for what in ("lowest", "mean", "highest")),
)

firing = Table(
    "firing",
    metadata,
    _place(),  # its sequence is that of the start entry: the firing's id
    Column("plan", Text, nullable=False),
    Column("cone", Text, nullable=False),
    Column("started_utc_ms", _Big, nullable=False),
    Column("ended_utc_ms", _Big),
    Column("tripped_utc_ms", _Big),
    Column("peak_celsius", Float),
    Column("cone_progress", Float),
    Column("alarms", Integer, nullable=False),
    Column("plan_toml", Text, nullable=False),
    Column("kiln_toml", Text, nullable=False),
)

checkpoint = Table(
    "checkpoint",
    metadata,
    _place(),
    Column("version", Integer, nullable=False),
    Column("blob", LargeBinary, nullable=False),
)

message = Table(
    "message",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("key", Text, nullable=False, unique=True),
    Column("recipient", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("urgent", Boolean, nullable=False),
    Column("created_utc_ms", _Big, nullable=False),
    Column("state", Text, nullable=False),  # pending, sent, given-up
    Column("attempts", Integer, nullable=False),
    Column("last_error", Text, nullable=False),
    Column("done_utc_ms", _Big),  # when it was accepted
)

person = Table(
    "person",
    metadata,
    Column("name", Text, primary_key=True),
    Column("ordinal", Integer, nullable=False),
    Column("role", Text, nullable=False),
    Column("quiet_from", Integer),  # minutes of the studio's day
    Column("quiet_to", Integer),
    Column("report", Boolean, nullable=False, server_default=false()),
)

channel = Table(
    "channel",
    metadata,
    Column("person", Text, ForeignKey("person.name"), primary_key=True),
    Column("name", Text, primary_key=True),
    Column("ordinal", Integer, nullable=False),
    Column("address", Text, nullable=False),  # a secret
    Column("loud", Boolean, nullable=False),
    Column("rang", Text, nullable=False),
    Column("rang_utc_ms", _Big),
)

photo = Table(
    "photo",
    metadata,
    Column("name", Text, primary_key=True),  # by its content: two of the same are one
    Column("jpeg", LargeBinary, nullable=False),
)

# A server's has the same condition, by the migration; to say it here too would load what only who has a server needs.
Index("message_pending", message.c.id, sqlite_where=text("state = 'pending'"))
