"""The record of the first spyhole."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_BIG = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _place() -> "sa.Column[int]":
    return sa.Column("place", _BIG, primary_key=True, autoincrement=False)


def _moment() -> "tuple[sa.Column[int], sa.Column[int]]":
    return (
        sa.Column("boot", sa.Integer, sa.ForeignKey("boot.id"), nullable=False),
        sa.Column("monotonic_ms", _BIG, nullable=False),
    )


def upgrade() -> None:
    """From nothing."""
    op.create_table(
        "kiln",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False, unique=True),
    )
    op.create_table(
        "boot",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False, unique=True),
        sa.Column("utc_offset_ms", _BIG),
        sa.Column("synchronised", sa.Boolean, nullable=False),
    )
    op.create_table(
        "reading",
        _place(),
        *_moment(),
        sa.Column("probes", sa.Integer, nullable=False),
        sa.Column("faults", _BIG, nullable=False),
        *(sa.Column(f"celsius_{n}", sa.Integer) for n in range(1, 9)),
        *(sa.Column(f"cold_junction_{n}", sa.Integer) for n in range(1, 9)),
    )
    op.create_table(
        "journal",
        _place(),
        *_moment(),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("payload", sa.Text, nullable=False),
    )
    op.create_table(
        "outcome",
        _place(),
        sa.Column("ordinal", sa.Integer, primary_key=True, autoincrement=False),
        *_moment(),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("tag", sa.Text, nullable=False),
        sa.Column("payload", sa.Text, nullable=False),
    )
    op.create_table(
        "minute",
        _place(),
        *_moment(),
        sa.Column("firing", _BIG, nullable=False),
        sa.Column("stage", sa.Text, nullable=False),
        sa.Column("ceiling", sa.Integer),
        sa.Column("rings", sa.Integer, nullable=False),
        *(sa.Column(f"{what}_{n}", sa.Integer) for n in range(1, 9) for what in ("lowest", "mean", "highest")),
    )
    op.create_table(
        "firing",
        _place(),
        sa.Column("plan", sa.Text, nullable=False),
        sa.Column("cone", sa.Text, nullable=False),
        sa.Column("started_utc_ms", _BIG, nullable=False),
        sa.Column("ended_utc_ms", _BIG),
        sa.Column("tripped_utc_ms", _BIG),
        sa.Column("peak_celsius", sa.Float),
        sa.Column("cone_progress", sa.Float),
        sa.Column("alarms", sa.Integer, nullable=False),
        sa.Column("plan_toml", sa.Text, nullable=False),
        sa.Column("kiln_toml", sa.Text, nullable=False),
    )
    op.create_table(
        "checkpoint",
        _place(),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("blob", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "message",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("key", sa.Text, nullable=False, unique=True),
        sa.Column("recipient", sa.Text, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("urgent", sa.Boolean, nullable=False),
        sa.Column("created_utc_ms", _BIG, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("last_error", sa.Text, nullable=False),
    )
    pending = sa.text("state = 'pending'")
    op.create_index("message_pending", "message", ["id"], sqlite_where=pending, postgresql_where=pending)
