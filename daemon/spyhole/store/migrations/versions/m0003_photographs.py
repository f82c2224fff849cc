"""Photographs of the cones, by the name of their content."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """One table more."""
    op.create_table(
        "photo",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("jpeg", sa.LargeBinary, nullable=False),
    )
