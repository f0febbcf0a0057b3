"""How much of a file is believed to be a dossier, and which characters may stand in a text."""

from __future__ import annotations

import unicodedata
from datetime import date

MAX_BYTES = 5_000_000
MAX_ROWS = 5_000  # marks, parts, repairs: each
MAX_TEXT = 2_000
MAX_NUMBER = 1e12  # nothing on an amp measures more, in any unit
MAX_LIST = 200  # photos of a mark, clauses of a claim
MAX_UNKNOWN_KEYS = 1_000  # of one table
MAX_KEY_STEPS = 50  # of a dotted key a.b.c…: tomllib takes quadratic time over long ones
LONG_LINE = 5_000  # characters; keys of shorter lines cost nothing, whatever they hold

# The week grid starts in 1930; the other end only keeps a slip of the keyboard (20226) from asking
# for a grid of a million weeks.
FIRST_AS_OF = date(1930, 1, 6)
LAST_AS_OF = date(2099, 12, 31)

_JOINERS = "\u200c\u200d"  # ordinary spelling in several scripts, no trick
_LAYOUT = "\t\n\r"


def hidden_characters(text: str) -> tuple[str, ...]:
    """The control and direction characters in ``text``: they change what a reader sees."""
    if text.isprintable():  # none of the categories below: nearly every text
        return ()
    return tuple(
        dict.fromkeys(
            c
            for c in text
            if c not in _LAYOUT
            and c not in _JOINERS
            and unicodedata.category(c) in ("Cc", "Cf", "Cs")
        )
    )


def visible(text: str, width: int = 80) -> str:
    """For a message: hidden characters as ``\\u202e``, line ends as ``⏎``, at most ``width``.

    >>> visible("99\\u202e3")
    '99\\\\u202e3'
    """
    shown = "".join(_visible_character(c) for c in text[: width + 1])
    return shown if len(shown) <= width else shown[: width - 1] + "…"


def _visible_character(c: str) -> str:
    if c == "\n":
        return "⏎"
    if hidden_characters(c) or c in "\t\r\u2028\u2029":
        return f"\\u{ord(c):04x}"
    return c


def name_of(character: str) -> str:
    """'U+202E right-to-left override'."""
    name = unicodedata.name(character, "control character").lower()
    return f"U+{ord(character):04X} {name}"
