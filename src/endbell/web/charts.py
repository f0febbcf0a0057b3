"""Charts as Vega-Lite specifications with their data in them, each beside the table it is drawn of.

Pure.  Colours and sizes come from the page that draws them (``static/charts.js``); a chart never
says what its table doesn't.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ..store.statistics import CERTAIN, Counted

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
MOST_MARKS = 24
ROW = 26  # pixels of a lying bar
LEVEL = {"labelAngle": 0, "labelOverlap": True}
NO_MODEL = "no model named"


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart and its table.  ``says``: the same in a sentence; ``align``: columns of numbers."""

    id: str
    title: str
    says: str
    spec: Mapping[str, Any]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: frozenset[int] = field(default_factory=frozenset[int])


def sure_words() -> tuple[str, ...]:
    """The degrees of certainty of the year, surest first."""
    high, mid, low = (f"{round(p * 100)} %" for p in CERTAIN)
    return (f"{high} and more", f"{mid} to {high}", f"{low} to {mid}", f"below {low}")


def by_month(counted: Counted) -> Chart:
    """How many amps were booked in each month, and how many of them are closed by now."""
    rows = _whole_months(counted.months)
    data = [
        {"month": month, "state": state, "order": i, "amps": amps}
        for month, n, closed in rows
        for i, (state, amps) in enumerate((("closed", closed), ("open", n - closed)))
    ]
    spec = _bars(
        data,
        x={"field": "month", "type": "ordinal", "title": None, "axis": LEVEL},
        y={"field": "amps", "type": "quantitative", "title": "amps", "axis": {"tickMinStep": 1}},
        color=_stack("state", ("closed", "open")),
    )
    best = max(rows, key=lambda row: row[1], default=None)
    says = f"{counted.dossiers} dossiers in all."
    if best:
        says += f" The busiest month was {best[0]}, with {best[1]}."
    return Chart(
        "months",
        "Booked in by month",
        says,
        spec,
        ("month", "booked in", "closed by now"),
        tuple((m, str(n), str(c)) for m, n, c in rows),
        frozenset({1, 2}),
    )


def by_model(counted: Counted, titles: Mapping[str, str]) -> Chart:
    """How many of each model, and how sure the year is.  ``titles``: of models, by id."""
    words = (*sure_words(), "not weighed")
    named = [
        (titles.get(m.model, m.model) or NO_MODEL, m, (*m.sure, m.unweighed))
        for m in counted.models
    ]
    data = [
        {"model": name, "sure": word, "order": i, "amps": amps}
        for name, _, counts in named
        for i, (word, amps) in enumerate(zip(words, counts, strict=True))
    ]
    spec = _bars(
        data,
        y={"field": "model", "type": "nominal", "title": None, "sort": "-x"},
        x={"field": "amps", "type": "quantitative", "title": "amps", "axis": {"tickMinStep": 1}},
        color=_stack("sure", words, "ordinal", title="likeliest year"),
    )
    sure = sum(m.sure[0] for m in counted.models)
    weighed = sum(sum(m.sure) for m in counted.models)
    says = (
        f"Of {weighed} weighed, the year of {sure} is as good as certain ({words[0]})."
        if weighed
        else "Nothing has been weighed yet."
    )
    return Chart(
        "models",
        "By model, and how sure the year is",
        says,
        spec,
        ("model", "amps", *words),
        tuple((name, str(m.count), *map(str, counts)) for name, m, counts in named),
        frozenset(range(1, len(words) + 2)),
    )


def by_year_built(counted: Counted) -> Chart:
    """When the amps were built: the likeliest year of each."""
    told = dict(counted.built)
    rows = [(y, told.get(y, 0)) for y in range(min(told), max(told) + 1)] if told else []
    data = [{"year": str(year), "amps": n} for year, n in rows]
    spec = _bars(
        data,
        x={"field": "year", "type": "ordinal", "title": None, "axis": LEVEL},
        y={"field": "amps", "type": "quantitative", "title": "amps", "axis": {"tickMinStep": 1}},
    )
    says = "Nothing has been weighed yet."
    if rows:
        year, most = max(rows, key=lambda row: row[1])
        says = f"From {rows[0][0]} to {rows[-1][0]}; most often {year}, {most} times."
    return Chart(
        "built",
        "By likeliest year of building",
        says,
        spec,
        ("year", "amps"),
        tuple((str(year), str(n)) for year, n in rows),
        frozenset({1}),
    )


def by_part(counted: Counted, class_of: Mapping[str, str], words: Sequence[str]) -> Chart:
    """What has become of the parts, by class.

    ``class_of``: title of the class of a part's id; ``words``: what a part may be called, from
    original to replaced.
    """
    sums: dict[str, dict[str, int]] = {}
    for part, word, n in counted.parts:
        of = sums.setdefault(class_of.get(part, "other parts"), dict.fromkeys(words, 0))
        of[word] = of.get(word, 0) + n
    gone = [word for word in words if "replaced" in word]

    def share(counts: Mapping[str, int]) -> float:
        return sum(counts.get(word, 0) for word in gone) / max(sum(counts.values()), 1)

    order = sorted(sums, key=lambda name: (-share(sums[name]), name))
    data = [
        {"class": name, "word": word, "order": i, "parts": sums[name].get(word, 0)}
        for name in order
        for i, word in enumerate(words)
    ]
    spec = _bars(
        data,
        y={"field": "class", "type": "nominal", "title": None, "sort": list(order)},
        x={
            "field": "parts",
            "type": "quantitative",
            "stack": "normalize",
            "title": "share of parts",
            "axis": {"format": "%"},
        },
        color=_stack("word", words, "diverging"),
    )
    says = "No part has been weighed yet."
    if order:
        first = order[0]
        says = f"Most often replaced: {first}, {share(sums[first]):.0%} of those weighed."
    return Chart(
        "parts",
        "Parts by class: original or replaced",
        says,
        spec,
        ("class", *words, "parts"),
        tuple(
            (name, *(str(sums[name].get(word, 0)) for word in words), str(sum(sums[name].values())))
            for name in order
        ),
        frozenset(range(1, len(words) + 2)),
    )


def by_mark(counted: Counted, titles: Mapping[str, str]) -> Chart:
    """Which marks are looked at most often, and how many can be read.  ``titles``: of parts."""
    words = ("seen", "not readable", "another answer")
    shown = [
        (f"{titles.get(part, part)}: {kind.replace('-', ' ')}", (seen, unread, other))
        for part, kind, seen, unread, other in counted.marks[:MOST_MARKS]
    ]
    data = [
        {"mark": name, "result": word, "order": i, "times": n}
        for name, counts in shown
        for i, (word, n) in enumerate(zip(words, counts, strict=True))
    ]
    spec = _bars(
        data,
        y={"field": "mark", "type": "nominal", "title": None, "sort": [n for n, _ in shown]},
        x={"field": "times", "type": "quantitative", "title": "times", "axis": {"tickMinStep": 1}},
        color=_stack("result", words),
    )
    says = f"Most often: {shown[0][0]}, {sum(shown[0][1])} times." if shown else "No mark yet."
    return Chart(
        "marks",
        "Marks most often looked at",
        says,
        spec,
        ("mark", *words, "times"),
        tuple((name, *map(str, counts), str(sum(counts))) for name, counts in shown),
        frozenset({1, 2, 3, 4}),
    )


def _whole_months(months: Sequence[tuple[str, int, int]]) -> list[tuple[str, int, int]]:
    """Every month to the latest, a year at least: one with nothing in it is told as nothing."""
    if not months:
        return []
    told = {month: (n, closed) for month, n, closed in months}
    first, last = (_months_since(month) for month in (min(told), max(told)))
    all_of_them = range(min(first, last - 11), last + 1)
    named = [f"{n // 12:04d}-{n % 12 + 1:02d}" for n in all_of_them]
    return [(month, *told.get(month, (0, 0))) for month in named]


def _months_since(month: str) -> int:
    year, _, number = month.partition("-")
    return int(year) * 12 + int(number) - 1


def _bars(data: Sequence[Mapping[str, Any]], **encoding: Mapping[str, Any]) -> dict[str, Any]:
    if "color" in encoding:
        encoding["order"] = {"field": "order", "type": "quantitative"}
    rows = 0
    if encoding["y"].get("type") == "nominal":
        names = {row[encoding["y"]["field"]] for row in data}
        rows = max(len(names), 1)
    return {
        "$schema": SCHEMA,
        "data": {"values": list(data)},
        "mark": {"type": "bar", "tooltip": True},
        "width": "container",
        "height": ROW * rows + 96 if rows else 220,  # with legend, axis and its title
        "autosize": {"type": "fit", "contains": "padding"},
        "encoding": encoding,
        "usermeta": {"rows": rows},
    }


def _stack(
    name: str, words: Sequence[str], tones: str = "category", *, title: str | None = None
) -> dict[str, Any]:
    """The parts of a bar in the order of ``words``; ``tones``: a range of colours of the page."""
    return {
        "field": name,
        "type": "ordinal",
        "sort": list(words),
        "scale": {"domain": list(words), "range": tones},
        "title": title,
    }
