"""The tables of accounts and what belongs to them.  Secrets stand here only as their hashes.

They are no projections of events: who may come in is kept apart from what was recorded.
"""

from __future__ import annotations

from sqlalchemy import Boolean, Column, ForeignKey, Index, Integer, String, Table, Text

from .tables import metadata

accounts = Table(
    "accounts",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("name", String(80), nullable=False),
    Column("folded", String(160), nullable=False, unique=True),  # so that 'Ana' and 'ana' are one
    Column("role", String(16), nullable=False),
    Column("password", Text, nullable=False, default=""),  # Argon2id; '' until one is chosen
    Column("closed", Boolean, nullable=False, default=False),
    Column("made_at", String(32), nullable=False),
    Column("changed_at", String(32), nullable=False),  # of the password
    Column("settings", Text, nullable=False, default="{}"),  # canonical JSON
)

devices = Table(
    "devices",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("secret", String(64), nullable=False, unique=True),  # SHA-256 of the cookie
    Column("name", String(80), nullable=False),
    Column("made_at", String(32), nullable=False),
    Column("seen_at", String(32), nullable=False),
)

sessions = Table(
    "sessions",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("secret", String(64), nullable=False, unique=True),  # SHA-256 of the cookie
    Column("account", ForeignKey("accounts.id"), nullable=False, index=True),
    Column("device", ForeignKey("devices.id"), nullable=False),
    Column("role", String(16), nullable=False),  # at most this, whatever the account may
    Column("way", String(16), nullable=False),  # 'password', 'pairing', 'link', 'setup'
    Column("made_at", String(32), nullable=False),
    Column("seen_at", String(32), nullable=False),
    Column("ends_at", String(32), nullable=False),
    Column("ended_at", String(32)),
)

links = Table(
    "links",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("secret", String(64), nullable=False, unique=True),  # SHA-256 of the token
    Column("purpose", String(16), nullable=False),  # 'password' or 'pairing'
    Column("account", ForeignKey("accounts.id"), nullable=False, index=True),
    Column("role", String(16), nullable=False),
    Column("made_by", String(32), nullable=False),
    Column("made_at", String(32), nullable=False),
    Column("ends_at", String(32), nullable=False),
    Column("used_at", String(32)),
)

shares = Table(
    "shares",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("secret", String(64), nullable=False, unique=True),  # SHA-256 of the token
    Column("dossier", ForeignKey("dossiers.id"), nullable=False, index=True),
    Column("label", String(120), nullable=False, default=""),
    Column("photos", Boolean, nullable=False, default=True),
    Column("made_by", String(32), nullable=False),
    Column("made_at", String(32), nullable=False),
    Column("ends_at", String(32), nullable=False),
    Column("taken_back_at", String(32)),
    Column("looked_at", Integer, nullable=False, default=0),
    Column("last_at", String(32)),
)

api_tokens = Table(
    "api_tokens",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("secret", String(64), nullable=False, unique=True),  # SHA-256 of the token
    Column("account", ForeignKey("accounts.id"), nullable=False, index=True),
    Column("name", String(80), nullable=False),
    Column("role", String(16), nullable=False),
    Column("made_at", String(32), nullable=False),
    Column("ends_at", String(32), nullable=False),
    Column("used_at", String(32)),
    Column("taken_back_at", String(32)),
)

tries = Table(
    "tries",
    metadata,
    Column("what", String(64), primary_key=True),  # SHA-256 of 'account:NAME' or 'address:IP'
    Column("count", Integer, nullable=False),
    Column("last_at", String(32), nullable=False),
)

account_log = Table(
    "account_log",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=True),
    Column("at", String(32), nullable=False),
    Column("who", String(32), nullable=False, default=""),  # the account that did it, if any
    Column("what", String(40), nullable=False),
    Column("about", String(200), nullable=False, default=""),
    Column("address", String(64), nullable=False, default=""),
    Index("ix_account_log_at", "at"),
    sqlite_autoincrement=True,
)
