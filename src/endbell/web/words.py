"""How roles and the lines of the log are said."""

from __future__ import annotations

from collections.abc import Mapping

ROLE_WORDS = {
    "reader": "reader: only looks",
    "technician": "technician: enters, shares",
    "owner": "owner: accounts as well",
}

_LOG = {
    "account-added": "account added",
    "account-closed": "account closed",
    "account-opened": "account opened again",
    "password-set": "password changed",
    "password-link-made": "link for a new password made",
    "password-link-used": "link for a new password used",
    "pairing-link-made": "code for a phone shown",
    "pairing-link-used": "code for a phone used",
    "role-set": "role changed",
    "shared": "dossier shared",
    "share-taken-back": "share taken back",
    "signed-in": "signed in",
    "signed-out": "signed out",
    "sign-in-failed": "a sign-in failed",
    "token-made": "API token made",
    "token-taken-back": "API token taken back",
    "everything-exported": "everything exported",
}


def log_words(what: str, about: str, names: Mapping[str, str]) -> str:
    """A line of the log; ids of accounts become their names."""
    said = _LOG.get(what, what.replace("-", " "))
    rest = " ".join(names.get(word, word) for word in about.split())
    return f"{said}: {rest}" if rest else said


def sentence(text: str) -> str:
    """A clause as a sentence."""
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."
