"""Passwords: hashed with Argon2id; what may be one."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from ..store.accounts import folded
from .settings import HashCost

SHORTEST, LONGEST = 12, 256


class PasswordRefused(ValueError):
    """The sentence says what was found and what would do."""


class Passwords:
    """Makes and checks hashes at one cost."""

    def __init__(self, cost: HashCost) -> None:
        self._hasher = PasswordHasher(cost.passes, cost.memory_kib, cost.lanes)
        # what a name that nobody has is checked against: as long as a real one takes
        self._nobody = self._hasher.hash("nobody has this password")

    def made(self, password: str) -> str:
        """The hash of a password."""
        return self._hasher.hash(password)

    def fits(self, password: str, kept: str) -> bool:
        """Whether it is the password of that hash; '' (none chosen) takes as long and fits none."""
        try:
            self._hasher.verify(kept or self._nobody, password)
        except (VerificationError, InvalidHashError):
            return False
        return bool(kept)

    def outdated(self, kept: str) -> bool:
        """Whether it was made at another cost."""
        return self._hasher.check_needs_rehash(kept)


def check_password(password: str, name: str) -> None:
    """Raise :class:`PasswordRefused` unless it may be the password of the account ``name``.

    Long enough, none of the very common ones, not the name: nothing is asked about its letters,
    nothing is cut off.
    """
    if len(password) < SHORTEST:
        raise PasswordRefused(
            f"the password has {len(password)} characters; accepted: {SHORTEST} or more"
        )
    if len(password) > LONGEST:
        raise PasswordRefused(
            f"the password has {len(password)} characters; accepted: at most {LONGEST}"
        )
    plain = folded(password)
    if plain in _common() or len(set(plain)) < 4:
        raise PasswordRefused(
            "the password is one of those tried first; accepted: one that is not in every list"
        )
    if folded(name) and plain.replace(folded(name), "").strip("0123456789 ") == "":
        raise PasswordRefused("the password is the name of the account; accepted: another one")


@cache
def _common() -> frozenset[str]:
    text = (files("endbell.web") / "data" / "common_passwords.txt").read_text(encoding="utf-8")
    return frozenset(
        folded(line) for line in text.splitlines() if line and not line.startswith("#")
    )
