"""One value of a dossier file against its key: the value, or what is wrong with it."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import cast

from .keys import Key
from .limits import (
    FIRST_AS_OF,
    LAST_AS_OF,
    MAX_LIST,
    MAX_NUMBER,
    MAX_TEXT,
    hidden_characters,
    name_of,
    visible,
)

Value = str | float | bool | date | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """What was found, what would be accepted, and the nearest accepted words."""

    found: str
    accepted: str
    nearest: tuple[str, ...] = ()


def check_value(key: Key, raw: object) -> Value | Fault:
    """``raw`` as tomllib gave it, in the form ``key`` asks for."""
    match key.form:
        case "text":
            if isinstance(raw, str) and (
                raw in key.choices if key.choices else len(raw) <= MAX_TEXT and raw.isprintable()
            ):
                return raw
            return _text(key, raw)
        case "texts":
            return _texts(key, raw)
        case "number":
            return _number(key, raw)
        case "text-or-number":
            return (
                _text(key, raw) if isinstance(raw, str) else _number(key, raw, "a text or a number")
            )
        case "yes-no":
            return raw if isinstance(raw, bool) else Fault(_is(key, raw), "true or false")
        case "day":
            return _day(key, raw)
        case _:
            return _edtf_text(key, raw)


def nearest_words(word: str, words: Iterable[str], n: int = 3) -> tuple[str, ...]:
    """The accepted words most like ``word``, best first."""
    by_lower = {w.lower(): w for w in words}
    close = difflib.get_close_matches(word.lower(), list(by_lower), n=n, cutoff=0.6)
    return tuple(by_lower[w] for w in close)


def say(raw: object) -> str:
    """A value as a person typed it: 'text "993"', 'number 993', 'a list'."""
    if isinstance(raw, str):
        return f'"{visible(raw)}"'
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, int | float):
        return f"the number {visible(number_text(raw), 40)}"
    if isinstance(raw, datetime | date):
        return f"the day {raw.isoformat()}"
    if isinstance(raw, list):
        return "a list"
    if isinstance(raw, dict):
        return "a table"
    return "a time of day"


def number_text(raw: float) -> str:
    """A number for a message; Python won't print one of thousands of digits."""
    try:
        return str(raw)
    except ValueError:
        return "of thousands of digits"


def _is(key: Key, raw: object) -> str:
    return f"{key.name} is {say(raw)}"


def _text(key: Key, raw: object) -> str | Fault:
    if not isinstance(raw, str):
        quoted = (
            f' ({key.name} = "{number_text(raw)}")'
            if isinstance(raw, int) and not isinstance(raw, bool)
            else ""
        )
        return Fault(
            _is(key, raw), f"a text in quotes{quoted}: codes keep their leading zeros and dashes"
        )
    fault = text_fault(key.name, raw)
    if fault is not None:
        return fault
    if key.choices and raw not in key.choices:
        return Fault(
            _is(key, raw), "one of " + ", ".join(key.choices), nearest_words(raw, key.choices)
        )
    return raw


def text_fault(name: str, text: str) -> Fault | None:
    """Why ``text`` can't be what a person read: its length, or hidden characters."""
    if len(text) > MAX_TEXT:
        return Fault(f"{name} of {len(text):,} characters", f"at most {MAX_TEXT:,} characters")
    hidden = hidden_characters(text)
    if hidden:
        names = ", ".join(name_of(c) for c in hidden[:3])
        return Fault(
            f"{name} holds a character that can't be seen ({names}): {say(text)}",
            "characters that show; a character that can't be read is ?",
        )
    return None


def _texts(key: Key, raw: object) -> tuple[str, ...] | Fault:
    accepted = f'a list of texts ({key.name} = ["…"])'
    if isinstance(raw, str):
        raw = [raw]  # one photo without brackets is plain enough
    if not isinstance(raw, list):
        return Fault(_is(key, raw), accepted)
    items = cast("list[object]", raw)
    if len(items) > MAX_LIST:
        return Fault(f"{key.name} lists {len(items):,} texts", f"at most {MAX_LIST}")
    texts: list[str] = []
    for item in items:
        if not isinstance(item, str):
            return Fault(f"{key.name} lists {say(item)}", accepted)
        fault = text_fault(key.name, item)
        if fault is not None:
            return fault
        texts.append(item)
    return tuple(texts)


def _number(key: Key, raw: object, accepted: str = "a number") -> float | Fault:
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        return Fault(_is(key, raw), accepted)
    try:
        number = float(raw)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number) or abs(number) > MAX_NUMBER:
        return Fault(_is(key, raw), "a finite number, as measured")
    return number


def _day(key: Key, raw: object) -> date | Fault:
    accepted = f"a day from {FIRST_AS_OF} to {LAST_AS_OF}, written 2026-03-02"
    if isinstance(raw, datetime):
        raw = raw.date()
    if isinstance(raw, str):
        try:
            raw = date.fromisoformat(raw.strip())
        except ValueError:
            return Fault(_is(key, raw), accepted)
    if not isinstance(raw, date):
        return Fault(_is(key, raw), accepted)
    return raw if FIRST_AS_OF <= raw <= LAST_AS_OF else Fault(_is(key, raw), accepted)


def _edtf_text(key: Key, raw: object) -> str | Fault:
    """The text of a date; whether it is a date is for the reader of such dates to say."""
    if isinstance(raw, datetime):
        return raw.date().isoformat()
    if isinstance(raw, date):
        return raw.isoformat()
    if isinstance(raw, int) and not isinstance(raw, bool) and 1000 <= raw <= 9999:
        return str(raw)
    if not isinstance(raw, str):
        return Fault(
            _is(key, raw), 'a date in quotes, as ISO 8601-2 writes it ("1964", "1963/1965", "196X")'
        )
    return text_fault(key.name, raw) or raw
