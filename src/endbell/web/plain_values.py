"""What a program may send to be recorded: values that every database and every file can keep."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import cast

from .refusal import Refusal

DEEPEST = 12
LONGEST_TEXT = 20_000
LONGEST_NAME = 100
LARGEST = 2**53
"""Whole numbers beyond are not the same everywhere."""


def check_plain(value: object, place: str = "data", depth: int = 0) -> None:
    """Raise :class:`Refusal` for a value that can't be kept as it is."""
    if depth > DEEPEST:
        raise _refused(place, "nested too deeply", f"at most {DEEPEST} deep")
    if isinstance(value, str):
        _check_text(value, place, LONGEST_TEXT)
    elif isinstance(value, bool) or value is None:
        return
    elif isinstance(value, int):
        if abs(value) > LARGEST:
            raise _refused(place, "a number too large to keep", f"at most {LARGEST}")
    elif isinstance(value, float):
        if not math.isfinite(value):
            raise _refused(place, "no number", "a finite one")
    elif isinstance(value, Mapping):
        for name, inner in cast("Mapping[str, object]", value).items():
            _check_text(name, place, LONGEST_NAME)
            check_plain(inner, f"{place}.{name}", depth + 1)
    else:
        for n, inner in enumerate(cast("Sequence[object]", value)):
            check_plain(inner, f"{place}.{n}", depth + 1)


def _check_text(text: str, place: str, longest: int) -> None:
    if len(text) > longest:
        raise _refused(place, f"{len(text):,} characters", f"at most {longest:,}")
    if "\0" in text or any("\ud800" <= c <= "\udfff" for c in text):
        raise _refused(place, "a character that is none", "Unicode text without NUL")


def _refused(place: str, found: str, accepted: str) -> Refusal:
    place = place.encode("utf-8", "replace").decode()[:200]
    return Refusal(422, f"{place}: {found}", accepted, place=place)
