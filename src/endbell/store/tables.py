"""The tables of the database.  ``events`` is the record; every other table here follows from it.

The migrations in ``migrations/`` make the same tables, which a test compares; accounts and what
belongs to them stand in ``account_tables``.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

events = Table(
    "events",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=True),
    Column("stream", String(32), nullable=False),
    Column("n", Integer, nullable=False),
    Column("at", String(32), nullable=False),
    Column("who", String(64), nullable=False),
    Column("device", String(128), nullable=False),
    Column("kind", String(32), nullable=False),
    Column("data", Text, nullable=False),  # canonical JSON
    Column("key", String(64), nullable=False, unique=True),
    Column("typed", String(32)),
    Column("digest", String(64), nullable=False),
    UniqueConstraint("stream", "n", name="uq_events_stream_n"),
    sqlite_autoincrement=True,
)

# ---- projections: rebuilt from events at any time

dossiers = Table(
    "dossiers",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("number", String(80), nullable=False, unique=True),
    Column("version", Integer, nullable=False),
    Column("state", Text, nullable=False),  # canonical JSON of DossierState
    Column("maker", String(80), nullable=False, default=""),
    Column("model", String(80), nullable=False, default=""),
    Column("built", String(80), nullable=False, default=""),
    Column("whose", String(200), nullable=False, default=""),
    Column("purpose", String(40), nullable=False, default=""),
    Column("marks", Integer, nullable=False, default=0),
    Column("closed", Boolean, nullable=False, default=False),
    Column("opened_at", String(32), nullable=False),
    Column("changed_at", String(32), nullable=False),
    Index("ix_dossiers_changed_at", "changed_at", "id"),
    Index("ix_dossiers_maker", "maker", "model", "closed"),
    Index("ix_dossiers_model", "model"),
)

marks = Table(
    "marks",
    metadata,
    Column("dossier", ForeignKey("dossiers.id"), primary_key=True),
    Column("id", String(64), primary_key=True),
    Column("part", String(80), nullable=False),
    Column("kind", String(40), nullable=False),
    Column("text", Text, nullable=False, default=""),
    Column("result", String(40), nullable=False, default="seen"),
    Column("withdrawn", Boolean, nullable=False, default=False),
)

photos = Table(
    "photos",
    metadata,
    Column("dossier", ForeignKey("dossiers.id"), primary_key=True),
    Column("sha256", String(64), primary_key=True),
    Column("mark", String(64)),
    Column("part", String(80)),
    Column("type", String(40), nullable=False),
    Column("bytes", Integer, nullable=False),
    Column("withdrawn", Boolean, nullable=False, default=False),
)

tags = Table(
    "tags",
    metadata,
    Column("dossier", ForeignKey("dossiers.id"), primary_key=True),
    Column("tag", String(80), primary_key=True, index=True),
)

# One row a dossier: ``lines`` are the texts of everything recorded, one a line, ``body`` their
# words folded for searching.  SQLite indexes ``body`` in the FTS5 table ``search``, PostgreSQL in
# a GIN index; both are made by the migrations.
search_text = Table(
    "search_text",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("dossier", ForeignKey("dossiers.id"), nullable=False, unique=True),
    Column("lines", Text, nullable=False),
    Column("body", Text, nullable=False),
)

# ---- a cache: the last verdict in brief of each dossier, for lists; may be emptied at any time

strips = Table(
    "strips",
    metadata,
    Column("dossier", ForeignKey("dossiers.id"), primary_key=True),
    Column("version", Integer, nullable=False),
    Column("made_by", String(80), nullable=False),  # code and packs that made it
    Column("says", Text, nullable=False),  # 'February to April 1964'
    Column("sure", String(16), nullable=False, default=""),  # 'settled', 'probable', 'open'
    Column("trouble", Boolean, nullable=False, default=False),  # then ``says`` tells why
    Column("conflicts", Integer),  # sets of marks that can't all be right; NULL: not counted
    Column("first_year", Integer),
    Column("mode_year", Integer),
    Column("last_year", Integer),
    Column("p_mode_year", Float),
    Column("claim_p", Float),
    Column("years", Text, nullable=False, default="[]"),  # JSON: [year, P] of those worth drawing
    Column("strip", Text, nullable=False),  # canonical JSON, what the strip is drawn from
    # all that lists are sorted and filtered by, so that they need not turn the long rows over
    Index(
        "ix_strips_list",
        "dossier",
        "version",
        "sure",
        "conflicts",
        "first_year",
        "mode_year",
        "last_year",
        "p_mode_year",
        "claim_p",
    ),
)
