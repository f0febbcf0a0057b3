"""A mark straight from the command line: ``PART:TEXT``, its kind guessed and said aloud.

The guess asks the packs which kinds of mark such a part bears, and the readers which of these the
text can be; nothing about makers or parts is known here.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from ..marks import MarkReading, Seen
from ..reference.types import Reference
from .limits import MAX_NUMBER
from .parts import known_part
from .reading import seen_of
from .types import Mark, Part

Read = Callable[[Seen], MarkReading]

_ANY_PART = (
    "source-date-code",
    "date-code",
    "chart-letters",
    "model-designation",
    "serial",
    "year-stamp",
    "hand-date",
    "patent-number",
    "label-text",
)
"""The kinds that are a text, in the order in which they are tried: sharpest scheme first."""

_WRITTEN = re.compile(r"[A-Za-z/'’]")
"""Characters of a date written by hand; the stamp of an inspector has digits alone."""

_FIGURE = re.compile(r"\s*([-+]?[0-9]+(?:\.[0-9]+)?)\s*([^\s0-9]*)\s*")
_NAME = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)+")
_PAPER = "document"


@dataclass(frozen=True, slots=True)
class Guess:
    """A mark as guessed; ``says`` is the sentence for the person who typed it."""

    mark: Mark
    part: Part | None
    says: str


def split_typed(typed: str) -> tuple[str, str] | None:
    """'ot:993-348' -> ('ot', '993-348'); None where there is no part or no text."""
    part, colon, text = typed.partition(":")
    part = part.strip()
    return (part, text.strip()) if colon and part and text.strip() else None


def guess_mark(
    n: int,
    part_id: str,
    text: str,
    reference: Reference,
    read: Read,
    parts: tuple[Part, ...] = (),
) -> Guess:
    """The mark that ``text`` on ``part_id`` most likely is.

    ``NAME=VALUE`` is a feature or a measured quantity of the packs; a condition word is a
    condition; on a paper the text is its date; everything else is the first kind borne by such
    a part that the text can be read as.  A text that nothing fits gets the likeliest kind, so
    that the reader can say what would have been accepted.
    """
    own = {part.id: part for part in parts}
    part = own.get(part_id) or known_part(part_id, reference)
    plain = Mark(n=n, part=part_id, kind="", text=text)
    named = _named_value(plain, reference)
    if named is not None:
        return _said(named, part, "its name says so")
    if text in reference.tables.conditions:
        return _said(replace(plain, kind="condition"), part, "it is a condition word")
    part_class = part.part_class if part else ""
    kinds = borne_kinds(part_id, part_class, reference)
    if _PAPER in kinds[:1]:
        return _said(
            replace(plain, kind=_PAPER, text="", date=text), part, "it lies with the papers"
        )
    fits = kinds_that_fit(plain, part_class, reference, read)
    if fits and fits[0] in kinds:
        return _said(replace(plain, kind=fits[0]), part, "such a part bears it and the text fits")
    # a slip in a code must not make it another kind of mark: 992-354 on a pot is no year stamp
    likeliest = next((k for k in kinds if k in _ANY_PART), None)
    if likeliest is not None:
        why = "such a part bears it" + ("; the text fits nothing" if text else "")
        return _said(replace(plain, kind=likeliest), part, why)
    if fits:
        return _said(replace(plain, kind=fits[0]), part, "the text fits")
    return _said(replace(plain, kind=_ANY_PART[0]), part, "nothing fits the text")


def kinds_that_fit(
    plain: Mark, part_class: str, reference: Reference, read: Read
) -> tuple[str, ...]:
    """Every kind that the text of ``plain`` can be read as, those borne by its part first."""
    borne = borne_kinds(plain.part, part_class, reference)
    order = list(_ANY_PART)
    if _WRITTEN.search(plain.text):
        order.remove("year-stamp")
        order.insert(order.index("hand-date") + 1, "year-stamp")
    first = [k for k in order if k in borne]
    return tuple(k for k in dict.fromkeys((*first, *order)) if _fits(plain, k, part_class, read))


def borne_kinds(part_id: str, part_class: str, reference: Reference) -> tuple[str, ...]:
    """The kinds of mark that the packs say such a part bears: by its id, then by its class."""
    expected = [part for model in reference.models for part in model.expected]
    kinds = [kind for part in expected if part.id == part_id for kind in part.kinds]
    kinds += [kind for part in expected if part.part_class == part_class for kind in part.kinds]
    kinds += [check.kind for check in reference.checks if check.part_class == part_class]
    return tuple(dict.fromkeys(kinds))


def _named_value(plain: Mark, reference: Reference) -> Mark | None:
    """``NAME=VALUE`` (or the bare name of a feature) as a feature or a measured quantity."""
    name, equals, value = (piece.strip() for piece in plain.text.partition("="))
    tables = reference.tables
    if name in tables.quantities and equals:
        figure = _FIGURE.fullmatch(value)
        if figure is None or abs(float(figure[1])) > MAX_NUMBER:
            return replace(plain, kind="measured", quantity=name, value=value, text="")
        unit = figure[2] or tables.quantities[name].unit
        return replace(
            plain, kind="measured", quantity=name, value=float(figure[1]), unit=unit, text=""
        )
    if name not in tables.features and not (equals and _NAME.fullmatch(name)):
        return None
    if value == "absent":
        return replace(plain, kind="feature", feature=name, result="absent", text="")
    return replace(plain, kind="feature", feature=name, value=value or None, text="")


def _fits(plain: Mark, kind: str, part_class: str, read: Read) -> bool:
    seen = seen_of(replace(plain, kind=kind), part_class)
    reading = read(seen)
    return reading.misfit is None and reading.dating != "nothing"


def _said(mark: Mark, part: Part | None, why: str) -> Guess:
    what = f'"{mark.text}"' if mark.text else (mark.feature or mark.quantity or mark.date or "")
    return Guess(mark, part, f"{mark.part}: {what} taken as {mark.kind} ({why})")
