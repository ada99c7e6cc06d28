"""The second step: where a board that was taken in from a file came from, so that it is taken in once."""

from typing import Final

import sqlalchemy as sa
from alembic import op

revision: Final = "2"
down_revision: Final = "1"
branch_labels: Final = None
depends_on: Final = None


def upgrade() -> None:
    """Add the column, and let each device have a board from one place once."""
    op.add_column("board", sa.Column("origin", sa.String(32), nullable=True))
    op.create_index("ix_board_device_id_origin", "board", ["device_id", "origin"], unique=True)


def downgrade() -> None:
    """Take both away."""
    op.drop_index("ix_board_device_id_origin", "board")
    op.drop_column("board", "origin")
