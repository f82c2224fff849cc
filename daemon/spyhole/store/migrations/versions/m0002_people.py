"""People with their channels; when a message was accepted."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_BIG = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """From the record of the first spyhole."""
    op.create_table(
        "person",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("ordinal", sa.Integer, nullable=False),
        sa.Column("role", sa.Text, nullable=False),
        sa.Column("quiet_from", sa.Integer),
        sa.Column("quiet_to", sa.Integer),
    )
    op.create_table(
        "channel",
        sa.Column("person", sa.Text, sa.ForeignKey("person.name"), primary_key=True),
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("ordinal", sa.Integer, nullable=False),
        sa.Column("address", sa.Text, nullable=False),
        sa.Column("loud", sa.Boolean, nullable=False),
        sa.Column("rang", sa.Text, nullable=False),
        sa.Column("rang_utc_ms", _BIG),
    )
    op.add_column("message", sa.Column("done_utc_ms", _BIG))
