"""Lists: what a row of one shows stands in columns of its own, and how many conflicts there are."""

from __future__ import annotations

import json

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

TOGETHER = 500
LEAST = 0.004
KEPT = (
    "dossier",
    "version",
    "made_by",
    "says",
    "sure",
    "first_year",
    "mode_year",
    "last_year",
    "p_mode_year",
    "claim_p",
    "strip",
)
INDEXED = (
    "dossier",
    "version",
    "sure",
    "conflicts",
    "first_year",
    "mode_year",
    "last_year",
    "p_mode_year",
    "claim_p",
)


def upgrade() -> None:
    """The strips in a new table, before their long column what lists need; two indexes."""
    op.execute("CREATE TABLE strips_before AS SELECT * FROM strips")
    op.drop_table("strips")
    made = op.create_table(
        "strips",
        sa.Column("dossier", sa.String(length=32), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("made_by", sa.String(length=80), nullable=False),
        sa.Column("says", sa.Text(), nullable=False),
        sa.Column("sure", sa.String(length=16), nullable=False),
        sa.Column("trouble", sa.Boolean(), nullable=False),
        sa.Column("conflicts", sa.Integer(), nullable=True),
        sa.Column("first_year", sa.Integer(), nullable=True),
        sa.Column("mode_year", sa.Integer(), nullable=True),
        sa.Column("last_year", sa.Integer(), nullable=True),
        sa.Column("p_mode_year", sa.Float(), nullable=True),
        sa.Column("claim_p", sa.Float(), nullable=True),
        sa.Column("years", sa.Text(), nullable=False),
        sa.Column("strip", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["dossier"], ["dossiers.id"], name=op.f("fk_strips_dossier_dossiers")
        ),
        sa.PrimaryKeyConstraint("dossier", name=op.f("pk_strips")),
    )
    _carry_over(made)
    op.drop_table("strips_before")
    op.create_index("ix_strips_list", "strips", list(INDEXED), unique=False)
    op.drop_index("ix_dossiers_changed_at", table_name="dossiers")
    op.create_index("ix_dossiers_changed_at", "dossiers", ["changed_at", "id"], unique=False)


def _carry_over(made: sa.Table) -> None:
    """Some hundred at a time.  How many conflicts there are, the next weighing counts."""
    before = sa.table("strips_before", *(sa.column(name) for name in KEPT))
    connection, last = op.get_bind(), ""
    while True:
        query = (
            sa.select(before)
            .where(before.c.dossier > last)
            .order_by(before.c.dossier)
            .limit(TOGETHER)
        )
        rows = [dict(row) for row in connection.execute(query).mappings()]
        if not rows:
            return
        for row in rows:
            strip = json.loads(row["strip"])
            years = [[year, round(p, 4)] for year, p in strip.get("years", ()) if p >= LEAST]
            row |= {
                "trouble": bool(strip.get("trouble")),
                "conflicts": None,
                "years": json.dumps(years, separators=(",", ":")),
            }
        connection.execute(sa.insert(made), rows)
        last = rows[-1]["dossier"]
