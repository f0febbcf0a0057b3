"""Marks that are no digit codes in words: dates, serials, terms, features, measures, conditions."""

from __future__ import annotations

from datetime import date

from ..dossier.types import Mark
from ..marks.types import MarkReading
from ..reference.types import Alternative, FeatureValue, Model, Reference, Window
from ..report.numbers import MONTHS, day_words, listed, percent, week_words, years_words

FEW = 4
NEAR = 3.0
"""Standard deviations within which a measured figure is said to be a catalogued value."""


def dated(reading: MarkReading) -> tuple[str, ...]:
    """Readings that are dates: 'Means March 1964 or April 1964'."""
    found = sorted(reading.readings, key=lambda r: -r.p)
    best = found[0].p if found else 0.0
    likely = sorted((r for r in found if r.p >= 0.1 * best), key=lambda r: r.first or date.min)
    if not likely:
        return ("Has no date in it.",)
    if len(likely) > FEW:
        days = [r.first for r in likely if r.first], [r.last for r in likely if r.last]
        if not days[0] or not days[1]:
            return (f"Can be read in {len(likely)} ways.",)
        first, last = min(days[0]), max(days[1])
        return (f"Means one of {len(likely)} dates from {_month(first)} to {_month(last)}.",)
    return (f"Means {listed([week_words(r.label) for r in likely], 'or')}.",)


def serial(reading: MarkReading) -> tuple[str, ...]:
    """'Means about June 1963, give or take 13 weeks.'"""
    said = [
        f"about {_month(r.first)}, give or take {r.spread_weeks:.0f} weeks"
        for r in reading.readings[:FEW]
        if r.first is not None
    ]
    return (f"Means {listed(said, 'or')}.",) if said else ("No range of serials has it.",)


def terms(reading: MarkReading, reference: Reference) -> tuple[str, ...]:
    """One sentence a dated term."""
    words = {term.id: term.words for term in reference.tables.terms}
    return tuple(
        f"{words.get(hit.term, hit.term)}: printed {_span(hit.not_before, hit.not_after)}."
        for hit in reading.terms
    )


def patent(reading: MarkReading) -> tuple[str, ...]:
    """'Issued in 1938: the label is not older than that.'"""
    years = sorted({r.first.year for r in reading.readings if r.first})
    if not years:
        return ("No year is known for this number.",)
    said = listed([str(year) for year in years[:FEW]], "or")
    return (f"Issued in {said}: the label was printed then or later.",)


def document(reading: MarkReading) -> tuple[str, ...]:
    """'The amp existed by 28 February 1965.'"""
    last = reading.readings[0].last if reading.readings else None
    return (f"The amp existed by {day_words(last)}.",) if last else ()


def condition(reading: MarkReading, reference: Reference) -> tuple[str, ...]:
    """How often such a joint is seen on an original part and on one replaced later."""
    word = reference.conditions.get(reading.value or "")
    if word is None:
        return (f"{reading.value}.",)
    return (
        f"{word.title[:1].upper()}{word.title[1:]}.",
        f"Seen on {percent(word.if_original)} of original parts and "
        f"{percent(word.if_later)} of those replaced later.",
    )


def designation(reading: MarkReading) -> tuple[str, ...]:
    """A loudspeaker's name taken apart: size, magnet, power."""
    facts = dict(reading.readings[0].facts) if reading.readings else {}
    said = [facts[key] for key in ("size", "magnet") if key in facts]
    if "power" in facts:
        said.append(f"power {facts['power']}")
    name = reading.value or ""
    return (f"{name}: {', '.join(said)}." if said else f"{name}.",)


def feature(
    reading: MarkReading, mark: Mark, reference: Reference, model: Model | None
) -> tuple[str, ...]:
    """When that value was fitted on this model, or else on which others."""
    known = reference.features.get(mark.feature or "")
    value = reading.value or ""
    rows = [row for row in known.values if row.value == value] if known else []
    here = [row for row in rows if model is None or not row.models or model.id in row.models]
    shown = value.replace("-", " ")
    if here:
        where = f"on the {model.title}" if model else "on these models"
        return (f"{shown}: {where} {_windows(here)}.",)
    if not rows:
        return (f"{shown}: no window is known for it.",)
    titles = {m.id: m.title for m in reference.models}
    others = dict.fromkeys(titles.get(m, m) for row in rows for m in row.models)
    return (f"{shown}: not known on this model; on {listed(list(others), 'and')}.",)


def measured(
    reading: MarkReading, mark: Mark, reference: Reference, model: Model | None
) -> tuple[str, ...]:
    """The catalogued value that the figure goes with."""
    quantity = reference.quantities.get(mark.quantity or "")
    number = reading.number
    if quantity is None or number is None:
        return ()
    unit = quantity.unit
    out: list[str] = []
    if mark.unit not in (None, unit):
        out.append(f"{number:.4g} {unit}.")
    rows = [
        a for a in quantity.alternatives if model is None or not a.models or model.id in a.models
    ]

    def away(row: Alternative) -> float:
        spread = (row.sd**2 + reading.uncertainty**2) ** 0.5
        return abs(number - row.mean) / spread if spread > 0 else float("inf")

    near = sorted((row for row in rows if away(row) <= NEAR), key=away)
    for row in near[:FEW]:
        shown = row.value.replace("-", " ")
        out.append(f"Goes with {shown} ({row.mean:g} ± {row.sd:g} {unit}), {_window(row.window)}.")
    if rows and not near:
        row = min(rows, key=away)
        shown = row.value.replace("-", " ")
        out.append(f"Goes with nothing in the packs; nearest: {shown}, {row.mean:g} {unit}.")
    return tuple(out)


def _windows(rows: list[FeatureValue]) -> str:
    return listed(list(dict.fromkeys(_window(row.window) for row in rows)), "and")


def _window(window: Window) -> str:
    first, last = window.first, window.last
    if first and last:
        return years_words(first.year, last.year)
    if first:
        return f"from {first.year}"
    return f"until {last.year}" if last else "at any time"


def _span(first: date | None, last: date | None) -> str:
    if first and last:
        return f"between {first.year} and {last.year}"
    if first:
        return f"in {first.year} or later"
    return f"in {last.year} or earlier" if last else "at any time"


def _month(day: date) -> str:
    return f"{MONTHS[day.month - 1]} {day.year}"
