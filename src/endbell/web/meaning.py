"""What a mark means, in words, while it is being typed.  Pure: a mark and the packs in, words out.

The engine weighs; this only says how a text can be read, and what stands in the packs about it.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..dossier.reading import seen_of
from ..dossier.types import Mark
from ..marks import KINDS, MarkReading, Span, UnknownKind, read_mark
from ..reference.types import Model, Reference
from . import meaning_words
from .meaning_codes import code_words, so_far

EMPTY, PARTIAL, READS, MISFIT, NOTHING = "empty", "partial", "reads", "misfit", "nothing"


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the text: what group of the code it is, whether it is in doubt."""

    text: str
    group: str = ""
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a mark means.

    ``state``: 'empty' (nothing typed), 'partial' (the beginning of a code), 'reads', 'misfit' (no
    code of its kind shows this), 'nothing' (an answer that says nothing of the date).
    ``says``: sentences, the meaning first; ``found``, ``accepted``, ``nearest``: for a misfit.
    """

    state: str
    says: tuple[str, ...] = ()
    pieces: tuple[Piece, ...] = ()
    found: str = ""
    accepted: str = ""
    nearest: tuple[str, ...] = ()


def meaning(
    mark: Mark, part_class: str, reference: Reference, model: Model | None = None
) -> Meaning:
    """What ``mark``, on a part of that class, means.

    ``model``: the model that the amp is said to be, for what was fitted on it and who supplied.
    """
    answer = _answer(mark)
    if answer is not None:
        return answer
    if not _typed(mark):
        return Meaning(EMPTY, (f"{KINDS.get(mark.kind, mark.kind)}.",))
    try:
        reading = read_mark(seen_of(mark, part_class), reference.tables)
    except UnknownKind:
        return Meaning(MISFIT, found=f"kind {mark.kind!r}", accepted=", ".join(KINDS))
    begun = so_far(mark, part_class, reference, model)
    if reading.misfit is not None:
        if begun:
            return Meaning(PARTIAL, begun)
        found = reading.misfit
        return Meaning(MISFIT, found=found.found, accepted=found.accepted, nearest=found.nearest)
    says = _says(reading, mark, part_class, reference, model)
    if begun:
        says = (*begun, f"As it stands: {says[0][:1].lower()}{says[0][1:]}")
    pieces = pieces_of(mark.text, _spans(reading))
    return Meaning(PARTIAL if begun else READS, says, pieces)


def pieces_of(text: str, spans: tuple[Span, ...]) -> tuple[Piece, ...]:
    """The text cut at its groups; what lies between them is a piece without a group.

    >>> [(p.text, p.group) for p in pieces_of("993-3", (Span(0, 3, "source"), Span(4, 5, "year")))]
    [('993', 'source'), ('-', ''), ('3', 'year')]
    """
    out: list[Piece] = []
    at = 0
    for span in sorted(spans, key=lambda s: s.start):
        start = max(span.start, at)
        if start > at:
            out.append(Piece(text[at:start]))
        if span.end > start:
            out.append(Piece(text[start : span.end], span.group, span.doubtful))
        at = max(at, span.end)
    if at < len(text):
        out.append(Piece(text[at:]))
    return tuple(out)


def _answer(mark: Mark) -> Meaning | None:
    """The words for a look that came to something else than a text."""
    if mark.result == "illegible":
        return Meaning(NOTHING, ("There, but can't be read: it says nothing about the date.",))
    if mark.result == "not-possible":
        said = "Could not be looked at: kept, so that nobody is asked for it again."
        return Meaning(NOTHING, (said,))
    if mark.result == "nothing-found" or (mark.result == "absent" and mark.kind != "feature"):
        return Meaning(NOTHING, ("Looked for, and not there: that is an observation too.",))
    return None


def _typed(mark: Mark) -> bool:
    if mark.kind == "document":
        return bool(mark.date)
    if mark.kind == "feature":
        return mark.value is not None or mark.result == "absent"
    if mark.kind == "measured":
        return mark.value is not None
    return bool(mark.text.strip()) or mark.value is not None


def _says(
    reading: MarkReading,
    mark: Mark,
    part_class: str,
    reference: Reference,
    model: Model | None,
) -> tuple[str, ...]:
    if reading.splits:
        return code_words(reading, part_class, reference, model)
    if reading.dating == "terms":
        return meaning_words.terms(reading, reference)
    if reading.dating == "not-before":
        return meaning_words.patent(reading)
    if reading.dating == "serial":
        return meaning_words.serial(reading)
    if reading.dating == "existed":
        return meaning_words.document(reading)
    if reading.dating == "measured":
        return meaning_words.measured(reading, mark, reference, model)
    if reading.dating == "word":
        return meaning_words.condition(reading, reference)
    if reading.dating == "value" and mark.kind == "feature":
        return meaning_words.feature(reading, mark, reference, model)
    if reading.dating == "value":
        return meaning_words.designation(reading)
    return meaning_words.dated(reading)


def _spans(reading: MarkReading) -> tuple[Span, ...]:
    if reading.splits:
        return max(reading.splits, key=lambda s: (s.weight, -len(s.source))).spans
    if reading.terms:
        return tuple(hit.span for hit in reading.terms)
    return reading.readings[0].spans if reading.readings else ()
