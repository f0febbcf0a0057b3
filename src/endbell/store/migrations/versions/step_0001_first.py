"""The first tables: events and what follows from them, accounts and what belongs to them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

FTS5 = (
    # the words lie in search_text alone; FTS5 keeps only its index of them
    "CREATE VIRTUAL TABLE search USING fts5(body, content='search_text', content_rowid='id',"
    " tokenize='unicode61 remove_diacritics 0', prefix='2 3')",
    "CREATE TRIGGER search_text_in AFTER INSERT ON search_text BEGIN"
    " INSERT INTO search(rowid, body) VALUES (new.id, new.body); END",
    "CREATE TRIGGER search_text_out AFTER DELETE ON search_text BEGIN"
    " INSERT INTO search(search, rowid, body) VALUES ('delete', old.id, old.body); END",
    "CREATE TRIGGER search_text_over AFTER UPDATE ON search_text BEGIN"
    " INSERT INTO search(search, rowid, body) VALUES ('delete', old.id, old.body);"
    " INSERT INTO search(rowid, body) VALUES (new.id, new.body); END",
)
GIN = "CREATE INDEX ix_search_text_words ON search_text USING gin (to_tsvector('simple', body))"


def upgrade() -> None:
    """Make every table."""
    op.create_table(
        "account_log",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("who", sa.String(length=32), nullable=False),
        sa.Column("what", sa.String(length=40), nullable=False),
        sa.Column("about", sa.String(length=200), nullable=False),
        sa.Column("address", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_account_log")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_account_log_at", "account_log", ["at"], unique=False)
    op.create_table(
        "accounts",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("folded", sa.String(length=160), nullable=False),
        sa.Column("role", sa.String(length=16), nullable=False),
        sa.Column("password", sa.Text(), nullable=False),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("changed_at", sa.String(length=32), nullable=False),
        sa.Column("settings", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_accounts")),
        sa.UniqueConstraint("folded", name=op.f("uq_accounts_folded")),
    )
    op.create_table(
        "devices",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("secret", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("seen_at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_devices")),
        sa.UniqueConstraint("secret", name=op.f("uq_devices_secret")),
    )
    op.create_table(
        "dossiers",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("number", sa.String(length=80), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("maker", sa.String(length=80), nullable=False),
        sa.Column("model", sa.String(length=80), nullable=False),
        sa.Column("built", sa.String(length=80), nullable=False),
        sa.Column("whose", sa.String(length=200), nullable=False),
        sa.Column("purpose", sa.String(length=40), nullable=False),
        sa.Column("marks", sa.Integer(), nullable=False),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.Column("opened_at", sa.String(length=32), nullable=False),
        sa.Column("changed_at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_dossiers")),
        sa.UniqueConstraint("number", name=op.f("uq_dossiers_number")),
    )
    op.create_index("ix_dossiers_changed_at", "dossiers", ["changed_at"], unique=False)
    op.create_index("ix_dossiers_maker", "dossiers", ["maker", "model", "closed"], unique=False)
    op.create_index("ix_dossiers_model", "dossiers", ["model"], unique=False)
    op.create_table(
        "events",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("stream", sa.String(length=32), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("who", sa.String(length=64), nullable=False),
        sa.Column("device", sa.String(length=128), nullable=False),
        sa.Column("kind", sa.String(length=32), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("typed", sa.String(length=32), nullable=True),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_events")),
        sa.UniqueConstraint("key", name=op.f("uq_events_key")),
        sa.UniqueConstraint("stream", "n", name="uq_events_stream_n"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "tries",
        sa.Column("what", sa.String(length=64), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("last_at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("what", name=op.f("pk_tries")),
    )
    op.create_table(
        "api_tokens",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("secret", sa.String(length=64), nullable=False),
        sa.Column("account", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("role", sa.String(length=16), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("ends_at", sa.String(length=32), nullable=False),
        sa.Column("used_at", sa.String(length=32), nullable=True),
        sa.Column("taken_back_at", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(
            ["account"], ["accounts.id"], name=op.f("fk_api_tokens_account_accounts")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_tokens")),
        sa.UniqueConstraint("secret", name=op.f("uq_api_tokens_secret")),
    )
    op.create_index(op.f("ix_api_tokens_account"), "api_tokens", ["account"], unique=False)
    op.create_table(
        "links",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("secret", sa.String(length=64), nullable=False),
        sa.Column("purpose", sa.String(length=16), nullable=False),
        sa.Column("account", sa.String(length=32), nullable=False),
        sa.Column("role", sa.String(length=16), nullable=False),
        sa.Column("made_by", sa.String(length=32), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("ends_at", sa.String(length=32), nullable=False),
        sa.Column("used_at", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(
            ["account"], ["accounts.id"], name=op.f("fk_links_account_accounts")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_links")),
        sa.UniqueConstraint("secret", name=op.f("uq_links_secret")),
    )
    op.create_index(op.f("ix_links_account"), "links", ["account"], unique=False)
    op.create_table(
        "marks",
        sa.Column("dossier", sa.String(length=32), nullable=False),
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("part", sa.String(length=80), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("result", sa.String(length=40), nullable=False),
        sa.Column("withdrawn", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["dossier"], ["dossiers.id"], name=op.f("fk_marks_dossier_dossiers")
        ),
        sa.PrimaryKeyConstraint("dossier", "id", name=op.f("pk_marks")),
    )
    op.create_table(
        "photos",
        sa.Column("dossier", sa.String(length=32), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("mark", sa.String(length=64), nullable=True),
        sa.Column("part", sa.String(length=80), nullable=True),
        sa.Column("type", sa.String(length=40), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.Column("withdrawn", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["dossier"], ["dossiers.id"], name=op.f("fk_photos_dossier_dossiers")
        ),
        sa.PrimaryKeyConstraint("dossier", "sha256", name=op.f("pk_photos")),
    )
    op.create_table(
        "search_text",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("dossier", sa.String(length=32), nullable=False),
        sa.Column("lines", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["dossier"], ["dossiers.id"], name=op.f("fk_search_text_dossier_dossiers")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_search_text")),
        sa.UniqueConstraint("dossier", name=op.f("uq_search_text_dossier")),
    )
    op.create_table(
        "sessions",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("secret", sa.String(length=64), nullable=False),
        sa.Column("account", sa.String(length=32), nullable=False),
        sa.Column("device", sa.String(length=32), nullable=False),
        sa.Column("role", sa.String(length=16), nullable=False),
        sa.Column("way", sa.String(length=16), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("seen_at", sa.String(length=32), nullable=False),
        sa.Column("ends_at", sa.String(length=32), nullable=False),
        sa.Column("ended_at", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(
            ["account"], ["accounts.id"], name=op.f("fk_sessions_account_accounts")
        ),
        sa.ForeignKeyConstraint(
            ["device"], ["devices.id"], name=op.f("fk_sessions_device_devices")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sessions")),
        sa.UniqueConstraint("secret", name=op.f("uq_sessions_secret")),
    )
    op.create_index(op.f("ix_sessions_account"), "sessions", ["account"], unique=False)
    op.create_table(
        "shares",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("secret", sa.String(length=64), nullable=False),
        sa.Column("dossier", sa.String(length=32), nullable=False),
        sa.Column("label", sa.String(length=120), nullable=False),
        sa.Column("photos", sa.Boolean(), nullable=False),
        sa.Column("made_by", sa.String(length=32), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("ends_at", sa.String(length=32), nullable=False),
        sa.Column("taken_back_at", sa.String(length=32), nullable=True),
        sa.Column("looked_at", sa.Integer(), nullable=False),
        sa.Column("last_at", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(
            ["dossier"], ["dossiers.id"], name=op.f("fk_shares_dossier_dossiers")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shares")),
        sa.UniqueConstraint("secret", name=op.f("uq_shares_secret")),
    )
    op.create_index(op.f("ix_shares_dossier"), "shares", ["dossier"], unique=False)
    op.create_table(
        "strips",
        sa.Column("dossier", sa.String(length=32), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("made_by", sa.String(length=80), nullable=False),
        sa.Column("says", sa.Text(), nullable=False),
        sa.Column("sure", sa.String(length=16), nullable=False),
        sa.Column("first_year", sa.Integer(), nullable=True),
        sa.Column("mode_year", sa.Integer(), nullable=True),
        sa.Column("last_year", sa.Integer(), nullable=True),
        sa.Column("p_mode_year", sa.Float(), nullable=True),
        sa.Column("claim_p", sa.Float(), nullable=True),
        sa.Column("strip", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["dossier"], ["dossiers.id"], name=op.f("fk_strips_dossier_dossiers")
        ),
        sa.PrimaryKeyConstraint("dossier", name=op.f("pk_strips")),
    )
    op.create_table(
        "tags",
        sa.Column("dossier", sa.String(length=32), nullable=False),
        sa.Column("tag", sa.String(length=80), nullable=False),
        sa.ForeignKeyConstraint(
            ["dossier"], ["dossiers.id"], name=op.f("fk_tags_dossier_dossiers")
        ),
        sa.PrimaryKeyConstraint("dossier", "tag", name=op.f("pk_tags")),
    )
    op.create_index(op.f("ix_tags_tag"), "tags", ["tag"], unique=False)
    for step in FTS5 if op.get_bind().dialect.name == "sqlite" else (GIN,):
        op.execute(step)
