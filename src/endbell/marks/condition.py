"""Condition words: an untouched joint, a dust shadow, extra holes, in the pack's words."""

from __future__ import annotations

from .outcome import alike, few, misfit, settled, shown
from .tables import Tables
from .types import MarkReading, Seen

KIND = "condition"
WORDS = "the condition of a part or joint, in one of the pack's words"


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a condition word: ``dating`` is 'word', ``value`` the word in the pack's spelling.

    Spaces and dashes are alike.

    >>> from endbell.marks.tables import CodeGrammar, LetterDates
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}), conditions=("joint-untouched",))
    >>> read(Seen(KIND, "Joint untouched"), tables).value
    'joint-untouched'
    """
    early = settled(seen, needs_text=False)
    if early:
        return early
    given = seen.text.strip() or ("" if seen.value is None else str(seen.value).strip())
    word = next((w for w in tables.conditions if _plain(w) == _plain(given)), None)
    if word is None:
        found = f"condition {shown(given)}" if given else "no condition word"
        known = tables.conditions
        return misfit(seen, found, few(known, 20) or "a pack with conditions", alike(given, known))
    return MarkReading(seen.kind, seen.text, seen.legibility, "word", value=word)


def _plain(word: str) -> str:
    return "-".join(word.casefold().replace("-", " ").split())
