"""The words a report uses round the verdict's own: headline, origins, kinds, levels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..chronology.verdict import MarkVerdict, NextCheck, PartVerdict, Verdict, WeighedReading
from ..chronology.weeks import thursday
from ..dossier.types import Mark
from ..reference.types import Reference
from .numbers import index_of, listed, percent, ranges, span_words, week_words, years_words

SEPARATE_YEARS = 2
"""Pieces of a set further apart than this many years are told apart in words."""

SAID_PIECES = 5
"""More pieces than this are counted, not listed."""

SLIGHT = 0.005
"""Readings of less weight than this are counted, not named, where there are better ones."""

SIGNS = {
    "original": ("●", "O"),
    "probably original": ("◐", "o"),
    "cannot tell": ("◇", "?"),
    "probably replaced": ("◧", "r"),
    "replaced": ("■", "R"),
}
"""Word of a part -> its sign, and the sign where only ASCII can be shown."""

LEVELS = {
    "outside": "outside",
    "back-off": "back off",
    "chassis-out": "chassis out",
    "loosened": "a part loosened",
}

RESULTS = {
    "absent": "looked for, absent",
    "nothing-found": "looked for, nothing found",
    "illegible": "there, but can't be read",
    "not-possible": "could not be looked at",
}

NOT_SEEN = (
    (
        "Deliveries are judged within one class of part and one assembly; in this version they "
        "do not cross classes."
    ),
    (
        "The model sees only what was typed: a mark that nobody recorded, a part that was never "
        "looked at and a photograph that was not read count for nothing, for or against."
    ),
    (
        "It can't see work that leaves no trace: a part changed for one of the same date and "
        "source looks original."
    ),
    (
        "It can't see a mark that was made to deceive, beyond the stated cost of faking a feature "
        "and the stated odds of replacement."
    ),
    (
        "It knows the makers' practice only as far as the packs in force know it, and takes each "
        "figure of the list above for granted."
    ),
    "It says nothing about whether the amp is safe, works, or is worth its price.",
)
"""What the model can't see, for the appendix (docs/model.md says the same in equations)."""


@dataclass(frozen=True, slots=True)
class Headline:
    """The verdict in a few words. ``sure``: 'settled', 'probable' or 'open'; all are set alike."""

    text: str
    sure: str


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the 95% set, weeks both included, with the mass it holds."""

    first: int
    last: int
    mass: float

    @property
    def words(self) -> str:
        return span_words(self.first, self.last)

    @property
    def years(self) -> str:
        a, b = thursday(self.first).year, thursday(self.last).year
        return years_words(a, b)


def pieces(verdict: Verdict, level: str = "0.95") -> tuple[Piece, ...]:
    """The set's runs, joined where they lie within :data:`SEPARATE_YEARS`, in order of time."""
    runs = sorted((index_of(a), index_of(b), p) for a, b, p in verdict.build.sets.get(level, ()))
    out: list[Piece] = []
    for first, last, mass in runs:
        if out and thursday(first).year - thursday(out[-1].last).year < SEPARATE_YEARS:
            out[-1] = Piece(out[-1].first, max(last, out[-1].last), out[-1].mass + mass)
        else:
            out.append(Piece(first, last, mass))
    return tuple(out)


def headline(verdict: Verdict, reference: Reference | None) -> Headline:
    """The build date in words no stronger than its numbers.

    The words 'built', 'probably built' and 'cannot tell' follow the thresholds that the pack's
    table sets for 'original' and 'probably original'; 'built' also needs one piece of a few years.
    Without a reference there is no table, and nothing is called probable.
    """
    found = pieces(verdict)
    if not found:
        return Headline("Cannot tell: nothing was weighed", "open")
    if len(found) == 1:
        piece = found[0]
        if thursday(piece.last).year - thursday(piece.first).year <= SEPARATE_YEARS:
            return Headline(f"Built {piece.words}", "settled")
        return Headline(f"Cannot tell closer than {piece.years}", "open")
    best = max(found, key=lambda piece: (piece.mass, -piece.first))
    if best.mass >= floor_of(reference, "probably original"):
        rest = listed([piece.years for piece in found if piece is not best], "or")
        return Headline(f"Probably {best.words}, or else {rest}", "probable")
    if len(found) > SAID_PIECES:
        span = years_words(thursday(found[0].first).year, thursday(found[-1].last).year)
        return Headline(f"Cannot tell: {len(found)} stretches of years in {span}", "open")
    return Headline(f"Cannot tell: {listed([piece.years for piece in found], 'or')}", "open")


def floor_of(reference: Reference | None, word: str) -> float:
    """The lowest P(original) that the pack's table calls ``word``; 1 if it has no such word."""
    if reference is None:
        return 1.0
    return min((row.low for row in reference.part_words if row.word == word), default=1.0)


def beside(verdict: Verdict) -> str:
    """The number that stands next to the headline: the most likely year, or each piece's share."""
    found = pieces(verdict)
    if len(found) > 1:
        return ", ".join(f"{piece.years}: {percent(piece.mass)}" for piece in found)
    return f"{percent(verdict.build.p_mode_year)} in {verdict.build.mode_year}"


def title_of_class(reference: Reference | None, part_class: str) -> str:
    """The trade's word for a class of part; its id where the packs have none."""
    known = reference.classes.get(part_class) if reference is not None else None
    return known.title if known is not None else part_class.replace("-", " ")


def title_of_model(reference: Reference | None, model: str) -> str:
    """The model's title; its id where no pack knows it."""
    for known in reference.models if reference is not None else ():
        if known.id == model:
            return known.title
    return model


def kind_words(mark: Mark) -> str:
    """What sort of mark it is, with the feature or quantity it is about.

    >>> kind_words(Mark(1, "ot", "source-date-code"))
    'source date code'
    """
    about = mark.feature or mark.quantity
    words = mark.kind.replace("-", " ")
    return f"{words}: {about.replace('-', ' ')}" if about else words


def verbatim(mark: Mark) -> str:
    """What was typed: the text, or the value with its unit, or the date of a document."""
    if mark.text:
        return mark.text
    if mark.value is not None:
        value = mark.value if isinstance(mark.value, str) else f"{mark.value:g}"
        spread = f" ± {mark.uncertainty:g}" if mark.uncertainty else ""
        return f"{value}{spread} {mark.unit}" if mark.unit else f"{value}{spread}"
    return ""


def reading_words(reading: WeighedReading) -> str:
    """A reading as a person says it, without its weight."""
    said = week_words(reading.label)
    known = (reading.source or "").strip("?")
    return f"{said}, source {source_words(reading)}" if known else said


def source_words(reading: WeighedReading) -> str:
    """'993, Halden Coil', or the number alone where no pack knows it."""
    name = reading.source_name
    return f"{reading.source}, {name}" if name else f"{reading.source}"


def best_reading(mark: MarkVerdict) -> WeighedReading | None:
    """The reading with the most weight (the first of equals)."""
    return max(mark.readings, key=lambda r: r.p, default=None)


def weighty(mark: MarkVerdict, most: int) -> tuple[list[WeighedReading], list[WeighedReading]]:
    """The readings worth naming, most weight first, and the rest of them.

    At least the best is named, at most ``most``; none other of less than :data:`SLIGHT`.
    """
    found = sorted(mark.readings, key=lambda r: -r.p)
    count = max(1, min(most, sum(r.p >= SLIGHT for r in found)))
    return found[:count], found[count:]


def tick_words(mark: MarkVerdict, reading: WeighedReading) -> str:
    """One reading in words, as a screen reader says it.

    'mark 3, pot-1, 992-6405: 1964 week 5, weight 98%'
    """
    m = mark.mark
    said = f"mark {m.n}, {m.part}, {verbatim(m) or kind_words(m)}: "
    return f"{said}{week_words(reading.label)}, weight {percent(reading.p)}"


def origin_words(part: PartVerdict) -> str:
    """The word with the probability it stands for: 'original, 98%', 'cannot tell, original 60%'."""
    if part.word in ("replaced", "probably replaced"):
        return f"{part.word}, {percent(1 - part.original)}"
    if part.word == "cannot tell":
        return f"{part.word}, original {percent(part.original)}"
    return f"{part.word}, {percent(part.original)}"


def conflict_words(mark: MarkVerdict) -> str:
    """How surprising the mark is beside all the others."""
    if not mark.weighed:
        return "not weighed"
    return "not judged" if mark.conflict is None else percent(mark.conflict)


def by_level(checks: Sequence[NextCheck]) -> list[tuple[str, list[NextCheck]]]:
    """Checks by how far the amp has to be opened, levels and checks in the order given."""
    out: dict[str, list[NextCheck]] = {}
    for check in checks:
        out.setdefault(check.level, []).append(check)
    return list(out.items())


def sentence_case(text: str) -> str:
    """The text with a capital first letter."""
    return text[:1].upper() + text[1:]


def marks_said(numbers: Sequence[int]) -> str:
    """'mark 3', 'marks 3 and 7', 'marks 1–12'."""
    if len(numbers) == 1:
        return f"mark {numbers[0]}"
    return f"marks {ranges(numbers)}"
