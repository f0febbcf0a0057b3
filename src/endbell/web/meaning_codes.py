"""Codes of digits in words: the years, the week, who made it and when that is expected here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import prod

from ..dossier.types import Mark
from ..marks.likely_readings import week_values
from ..marks.types import MarkReading, Split, Vector
from ..reference.types import EraKnot, Model, Reference, Supply
from ..report.numbers import listed, years_words

LIKELY = 0.1
"""Said: whatever is at least this likely beside the likeliest."""

ERA = 0.1
"""Years in which fewer amps were made than this share of the busiest year are left unsaid."""

FEW_YEARS = 6
MOST_WEEKS = 10
FEW_SOURCES = 3

DIGIT_KINDS = ("source-date-code", "date-code")


def code_words(
    reading: MarkReading, part_class: str, reference: Reference, model: Model | None
) -> tuple[str, ...]:
    """'Means 1953, 1963 or 1973, week 48', 'Source 993, Halden Coil, expected here 1961–71'."""
    best = max(reading.splits, key=lambda split: _mass(split, reference))
    years = _years(best, reference)
    out = [f"Means {_years_said(years)}{_week_said(best, reference)}."]
    if best.source:
        out.append(_source_said(best.source, part_class, reference, model))
    within = _within(years, model)
    if within and len(within) < len(years):
        assert model is not None
        said = listed([str(year) for year in within], "and")
        goes = "goes" if len(within) == 1 else "go"
        out.append(f"Of these, {said} {goes} with the making of the {model.title}.")
    return tuple(out)


def so_far(
    mark: Mark, part_class: str, reference: Reference, model: Model | None
) -> tuple[str, ...]:
    """Words for the beginning of a code; empty where it can't become one by typing on."""
    if mark.kind == "chart-letters":
        text = mark.text.strip()
        return ("One letter so far: two make a date.",) if len(text) == 1 else ()
    if mark.kind not in DIGIT_KINDS or "..." in mark.text or "[" in mark.text:
        return ()
    digits = [c for c in mark.text if c not in reference.tables.grammar.separators]
    if not digits or any(not (c.isascii() and c.isdigit()) and c != "?" for c in digits):
        return ()
    lengths = _lengths(mark.kind, reference)
    if len(digits) >= min(lengths):
        return ()
    count = len(digits)
    out = [f"{count} digit{'s' * (count != 1)} so far; a code has {_or(lengths)}."]
    if mark.kind == "source-date-code" and count >= 2:
        begun = "".join(digits[:3])
        named = _suppliers_like(begun, part_class, reference, model)
        if named and len(named) <= FEW_SOURCES:
            out.append(listed([f"{number}: {name}" for number, name in named], "or") + ".")
    return tuple(out)


def _lengths(kind: str, reference: Reference) -> list[int]:
    if kind == "date-code":
        return [4]
    shapes = reference.tables.grammar.shapes
    usual = {s.source_digits + s.year_digits + s.week_digits for s in shapes}
    shares = reference.tables.grammar.source_length_share
    common = {
        s.source_digits + s.year_digits + s.week_digits
        for s in shapes
        if shares.get(s.source_digits, 0.0) >= LIKELY
    }
    return sorted(common or usual)


def _or(lengths: Sequence[int]) -> str:
    return listed([str(length) for length in lengths], "or")


def _mass(split: Split, reference: Reference) -> float:
    grammar = reference.tables.grammar
    share = grammar.source_length_share.get(len(split.source), 0.0) if split.source else 1.0
    scale = 10 ** -len(split.source)
    weeks = sum(p for p, _ in week_values(split.week, grammar))
    years = sum(p for p, _ in _year_weights(split, reference))
    return split.weight * share * scale * prod(sum(v) for v in split.source) * weeks * years


def _year_weights(split: Split, reference: Reference) -> list[tuple[float, int]]:
    grammar = reference.tables.grammar
    ten = 10 ** len(split.year)
    out: list[tuple[float, int]] = []
    for year in range(grammar.first_year, grammar.last_year + 1):
        digits = f"{year % ten:0{len(split.year)}d}"
        p = prod(v[int(d)] for v, d in zip(split.year, digits, strict=True))
        if p > 0:
            out.append((p, year))
    return out


def _years(split: Split, reference: Reference) -> list[int]:
    """The years worth saying: readable so, of the scheme, and of the era of such amps."""
    since = reference.tables.grammar.scheme_from if split.source else 0
    found = [(p, y) for p, y in _year_weights(split, reference) if y >= since]
    era = [(p, y) for p, y in found if len(split.year) > 1 or _in_era(y, reference.era)]
    found = era or found
    best = max((p for p, _ in found), default=0.0)
    return sorted(year for p, year in found if p >= LIKELY * best)


def _in_era(year: int, era: Sequence[EraKnot]) -> bool:
    """Whether the era prior of the packs has more than a trace of amps in that year."""
    if not era:
        return True
    before = max((k for k in era if k.year <= year), key=lambda k: k.year, default=era[0])
    after = min((k for k in era if k.year > year), key=lambda k: k.year, default=before)
    share = (year - before.year) / (after.year - before.year) if after.year > before.year else 0
    density = before.weight + share * (after.weight - before.weight)
    return density >= ERA * max(knot.weight for knot in era)


def _years_said(years: Sequence[int]) -> str:
    if not years:
        return "a year outside the scheme"
    if len(years) > FEW_YEARS:
        return f"one of {len(years)} years from {years[0]} to {years[-1]}"
    return listed([str(year) for year in years], "or")


def _week_said(split: Split, reference: Reference) -> str:
    found = week_values(split.week, reference.tables.grammar)
    best = max((p for p, _ in found), default=0.0)
    weeks = sorted(week for p, week in found if p >= LIKELY * best)
    if len(weeks) > MOST_WEEKS:
        return ", the week can't be told"
    return f", week {listed([str(week) for week in weeks], 'or')}"


def _within(years: Iterable[int], model: Model | None) -> list[int]:
    """The years in which parts for that model were bought: its runs and the year before each."""
    spans = [
        (run.first.year - 1 if run.first else 0, run.last.year if run.last else 9999)
        for run in (model.runs if model else ())
    ]
    return [year for year in years if any(a <= year <= b for a, b in spans)]


def _source_said(
    vectors: Sequence[Vector], part_class: str, reference: Reference, model: Model | None
) -> str:
    typed = "".join(_digit(v) for v in vectors)
    if "?" not in typed and all(sorted(v)[-2] == 0 for v in vectors):
        return _one_source(typed, part_class, reference, model)
    known = {n: _likelihood(n, vectors) for n in reference.tables.sources if len(n) == len(vectors)}
    here = _numbers_here(part_class, reference, model)
    known = {n: p for n, p in known.items() if n in here} or known
    best = max(known.values(), default=0.0)
    likely = [n for n, p in sorted(known.items()) if p > 0 and p >= LIKELY * best]
    if "?" not in typed and (not likely or _likelihood(typed, vectors) > best):
        return _one_source(typed, part_class, reference, model)
    if set(typed) == {"?"} or not likely or len(likely) > FEW_SOURCES:
        return f"Source {typed}: can't be told."
    if len(likely) == 1:
        return _one_source(likely[0], part_class, reference, model)
    named = listed([f"{n}, {reference.tables.sources[n]}" for n in likely], "or")
    return f"Source {typed}: {named}."


def _one_source(number: str, part_class: str, reference: Reference, model: Model | None) -> str:
    name = reference.tables.sources.get(number)
    supplies = [s for s in _supplies(part_class, reference, model) if s.number == number]
    if supplies:
        name = name or supplies[0].name
        return f"Source {number}, {name}, expected here {_windows(supplies)}."
    classes = reference.classes.get(part_class)
    plural = classes.plural if classes else "such parts"
    if name is None:
        return f"Source {number}: no pack in force names it."
    if _supplies(part_class, reference, model):
        return f"Source {number}, {name}: not known to have supplied {plural} here."
    return f"Source {number}, {name}."


def _windows(supplies: Sequence[Supply]) -> str:
    """The years of supply, joined where they meet: 'from 1961', '1962–71 and 1993–99'."""
    spans = sorted(
        (s.window.first.year if s.window.first else 0, s.window.last.year if s.window.last else 0)
        for s in supplies
    )
    joined: list[list[int]] = []
    for first, last in spans:
        if joined and (joined[-1][1] == 0 or first <= joined[-1][1] + 1):
            joined[-1][1] = 0 if 0 in (joined[-1][1], last) else max(joined[-1][1], last)
        else:
            joined.append([first, last])
    return listed([_window(first, last) for first, last in joined], "and")


def _window(first: int, last: int) -> str:
    if first and last:
        return years_words(first, last)
    return f"from {first}" if first else f"until {last}" if last else "at any time"


def _supplies(part_class: str, reference: Reference, model: Model | None) -> list[Supply]:
    return [
        s
        for s in reference.supplies
        if s.part_class == part_class and (model is None or not s.models or model.id in s.models)
    ]


def _numbers_here(part_class: str, reference: Reference, model: Model | None) -> set[str]:
    return {s.number for s in _supplies(part_class, reference, model)}


def _suppliers_like(
    begun: str, part_class: str, reference: Reference, model: Model | None
) -> list[tuple[str, str]]:
    """Suppliers of that class whose numbers the digits typed so far can be the beginning of."""
    named = {s.number: s.name for s in _supplies(part_class, reference, model)}
    return sorted(
        (number, name)
        for number, name in named.items()
        if len(number) >= len(begun)
        and all(c in ("?", d) for c, d in zip(begun, number, strict=False))
    )


def _digit(vector: Vector) -> str:
    """The digit that stands out; ``?`` where another is nearly as likely."""
    best, second = sorted(vector, reverse=True)[:2]
    return str(vector.index(best)) if second <= LIKELY * best else "?"


def _likelihood(number: str, vectors: Sequence[Vector]) -> float:
    return prod(v[int(d)] for v, d in zip(vectors, number, strict=True))
