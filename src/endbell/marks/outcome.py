"""What all readers do alike: results that settle a mark without reading, and misfits."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence

from .tables import Tables
from .types import MarkReading, Misfit, Seen

LEGIBILITIES = ("clear", "worn", "poor")
RESULTS = ("seen", "absent", "nothing-found", "illegible", "not-possible")
LONGEST = 200
_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
_SHOWN = 60
_NEAREST = 6


def settled(
    seen: Seen, *, longest: int = LONGEST, lines: bool = False, needs_text: bool = True
) -> MarkReading | None:
    """Return the outcome of a mark that needs no reading, None where the text must be read.

    Illegible and not-possible marks say nothing; absent and nothing-found are findings of their
    own.  Misfits here: an unknown result or legibility, no text, a text longer than ``longest``,
    control and direction characters (line breaks are allowed where ``lines`` is true).
    """
    if seen.result not in RESULTS:
        return misfit(seen, f"result {seen.result!r}", ", ".join(RESULTS))
    if seen.legibility not in LEGIBILITIES:
        return misfit(seen, f"legibility {seen.legibility!r}", ", ".join(LEGIBILITIES))
    if seen.result in ("illegible", "not-possible"):
        return outcome(seen, "nothing")
    if seen.result in ("absent", "nothing-found"):
        return outcome(seen, "nothing-found")
    if len(seen.text) > longest:
        return misfit(seen, f"a text of {len(seen.text)} characters", f"at most {longest}")
    for place, character in enumerate(seen.text):
        if character.isascii() and character.isprintable():
            continue
        if lines and character in "\n\r\t":
            continue
        if unicodedata.category(character) in _HIDDEN:
            return misfit(
                seen,
                f"a hidden character (U+{ord(character):04X}) at place {place + 1}",
                "characters that can be seen: type the text anew, without copying it",
            )
    if needs_text and not seen.text.strip():
        return misfit(seen, "no text", "the mark exactly as seen, or the result 'illegible'")
    return None


def outcome(seen: Seen, dating: str) -> MarkReading:
    """Return a reading with nothing but its ``dating``."""
    return MarkReading(seen.kind, seen.text, seen.legibility, dating)


def misfit(seen: Seen, found: str, accepted: str, nearest: Iterable[str] = ()) -> MarkReading:
    """Return a reading that can't be weighed, with the few nearest texts that could be."""
    problem = Misfit(found, accepted, tuple(dict.fromkeys(nearest))[:_NEAREST])
    return MarkReading(seen.kind, seen.text, seen.legibility, "nothing", misfit=problem)


def shown(text: str) -> str:
    """Return a text in quotes for a message, cut if it is long."""
    return repr(text if len(text) <= _SHOWN else text[:_SHOWN] + "…")


def few(words: Sequence[str], most: int = 8) -> str:
    """Return the first words of a list, and how many more there are."""
    more = len(words) - most
    return ", ".join(words[:most]) + (f" and {more} more" if more > 0 else "")


def alike(word: str, words: Iterable[str]) -> tuple[str, ...]:
    """Return the words spelt most like ``word``."""
    from difflib import get_close_matches  # only on the way to a message

    return tuple(get_close_matches(word, list(words), n=3))


def as_digits(text: str, tables: Tables) -> str:
    """Return the text with letters that look like digits replaced: what was probably meant."""
    return "".join(tables.grammar.look_alikes.get(c.upper(), c) for c in text)
