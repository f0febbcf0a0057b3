"""Features: something the reference pack knows to look at, as one of its stated values."""

from __future__ import annotations

from .outcome import alike, few, misfit, settled, shown
from .tables import Tables
from .types import MarkReading, Seen

KIND = "feature"
WORDS = "a feature of the model, as one of its values or 'absent'"

ABSENT = "absent"


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a feature: ``dating`` is 'value', the value in the pack's spelling or 'absent'.

    The result 'absent' is the value 'absent': looked at, and not there.

    >>> from endbell.marks.tables import CodeGrammar, FeatureWords, LetterDates
    >>> colour = FeatureWords("covering-colour", "covering", ("black", "grey-tweed"))
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}), features={colour.id: colour})
    >>> read(Seen(KIND, feature="covering-colour", value="grey-tweed"), tables).value
    'grey-tweed'
    """
    absent = seen.result == ABSENT
    early = settled(seen, needs_text=False)
    if early and (early.misfit or not absent):
        return early
    words = tables.features.get(seen.feature or "")
    if words is None:
        found = f"feature {shown(seen.feature)}" if seen.feature else "no feature named"
        known = list(tables.features)
        nearest = alike(seen.feature or "", known)
        return misfit(seen, found, few(known) or "a pack with features", nearest)
    given = ABSENT if absent else _given(seen)
    values = tuple(dict.fromkeys((*words.values, ABSENT)))
    value = next((v for v in values if v.casefold() == given.casefold()), None)
    if value is None:
        found = f"value {shown(given)}" if given else "no value"
        return misfit(seen, found, few(values, 20), alike(given, values))
    return MarkReading(seen.kind, seen.text, seen.legibility, "value", value=value)


def _given(seen: Seen) -> str:
    return (seen.text if seen.value is None else str(seen.value)).strip()
