"""Who wants the report of a firing the morning after."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """One column more."""
    op.add_column("person", sa.Column("report", sa.Boolean, nullable=False, server_default=sa.false()))
