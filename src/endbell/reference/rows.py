"""How the cells of one row become a record, table by table; CellError where they can't."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Generic, TypeVar

from ..marks.tables import ChartScheme, CodeShape, DesignationScheme, PatentYear, SerialRange, Term
from ..marks.types import Vector
from .cells import CellError, Cells
from .types import (
    Alternative,
    Assumption,
    Check,
    ConditionWord,
    ExpectedPart,
    Feature,
    FeatureValue,
    Model,
    PartClass,
    Quantity,
    Supply,
    Window,
)

T = TypeVar("T")
YEARS = (1000, 9999)  # years a table may name: four digits


@dataclass(frozen=True, slots=True)
class Owned(Generic[T]):
    """A row that belongs to another one (a run to its model, a value to its feature)."""

    owner: str
    models: tuple[str, ...]
    row: T


@dataclass(frozen=True, slots=True)
class ConfusionRow:
    """P(seen | true) of one true character at one legibility."""

    legibility: str
    true: str
    p: Vector


@dataclass(frozen=True, slots=True)
class GrammarRow:
    """The numbers of the grammar of digit codes, without its shapes."""

    choice_slack: float
    lost_ratio: float
    stray_end: float
    separators: str
    first_week: int
    last_week: int


def _origin(c: Cells) -> tuple[str, str]:
    return c.text("source"), c.text("confidence")


def _share(c: Cells, key: str) -> float:
    return c.number(key, 0.0, 1.0)


def assumption_row(c: Cells) -> Assumption:
    return Assumption(
        c.text("name"), c.number("value"), c.text("unit", ""), *_origin(c), c.text("words", "")
    )


def class_row(c: Cells) -> PartClass:
    return PartClass(
        c.text("id"), c.text("title"), c.text("plural"), c.words("words"), c.flag("dated")
    )


def condition_row(c: Cells) -> ConditionWord:
    return ConditionWord(
        c.text("word"),
        c.text("title"),
        c.text("group"),
        _share(c, "if_original"),
        _share(c, "if_later"),
        _share(c, "if_period"),
        *_origin(c),
    )


def check_row(c: Cells) -> Check:
    return Check(
        c.text("id"),
        c.text("title"),
        c.text("class"),
        c.text("kind"),
        c.text("level"),
        c.number("minutes", 0.01, 1000.0),
        _share(c, "legible"),
        c.maybe("found_original", 0.0, 1.0),
        c.maybe("found_replaced", 0.0, 1.0),
        *_origin(c),
    )


def confusion_row(alphabet: str) -> Callable[[Cells], ConfusionRow]:
    def build(c: Cells) -> ConfusionRow:
        true = c.text("true")
        if true not in alphabet:
            raise CellError("true", repr(true), f"one of {alphabet}")
        p = tuple(_share(c, seen) for seen in alphabet)
        if abs(sum(p) - 1.0) > 1e-9:
            raise CellError("true", f"a row that sums to {sum(p):.9g}", "a row that sums to 1")
        return ConfusionRow(c.text("legibility"), true, p)

    return build


def grammar_row(c: Cells) -> GrammarRow:
    return GrammarRow(
        _share(c, "choice_slack"),
        _share(c, "lost_ratio"),
        _share(c, "stray_end"),
        c.text("separators"),
        c.whole("first_week", 0, 99),
        c.whole("last_week", 0, 99),
    )


def shape_row(c: Cells) -> CodeShape:
    return CodeShape(
        c.whole("source_digits", 0, 9), c.whole("year_digits", 1, 4), c.whole("week_digits", 1, 2)
    )


def letter_year_row(c: Cells) -> tuple[str, tuple[int, ...]]:
    try:
        return c.text("letter"), tuple(int(year) for year in c.words("years"))
    except ValueError:
        raise CellError("years", repr(c.values["years"]), "years such as '1970;1990'") from None


def chart_row(c: Cells) -> ChartScheme:
    months = c.text("months")
    if len(months) != 12 or len(set(months)) != 12:
        raise CellError("months", repr(months), "twelve different letters, January first")
    years = c.text("years")
    if len(set(years)) != len(years):
        raise CellError("years", repr(years), "every letter once")
    order = c.text("order", "year-month")
    return ChartScheme(c.text("id"), c.whole("first_year", *YEARS), years, months, order)


def serial_row(c: Cells) -> SerialRange:
    window = c.window()
    first_number, last_number = (
        c.whole("first_number", 0, 10**9),
        c.whole("last_number", 0, 10**9),
    )
    if last_number < first_number:
        raise CellError("last_number", repr(last_number), f"a number from {first_number} up")
    return SerialRange(
        c.text("id"),
        c.text("prefix", ""),
        first_number,
        last_number,
        _closed(window.first, "first"),
        _closed(window.last, "last"),
        c.number("spread_weeks", 0.01, 2000.0),
        c.words("models"),
    )


def _closed(day: date | None, key: str) -> date:
    if day is None:
        raise CellError(key, f"no '{key}'", "a year, month or day")
    return day


def term_row(c: Cells) -> Term:
    return Term(
        c.text("id"),
        c.words("patterns"),
        c.first("not_before"),
        c.last("not_after"),
        c.text("strictness"),
        c.text("words"),
        c.text("source"),
    )


def patent_row(c: Cells) -> PatentYear:
    return PatentYear(
        c.whole("year", *YEARS),
        c.whole("first_utility", 1, 10**9),
        c.whole("first_design", 1, 10**9),
    )


def designation_row(c: Cells) -> DesignationScheme:
    return DesignationScheme(
        c.text("id"),
        c.text("pattern"),
        c.mapping("magnets"),
        c.mapping("sizes"),
        c.text("powers"),
        c.flag("rising"),
    )


def model_row(c: Cells) -> Model:
    return Model(
        c.text("id"),
        c.text("maker"),
        c.text("title"),
        (),
        c.number_or("odds", math.nan, 0.0),  # not stated: model.odds_default
        c.number("softness_weeks", 0.0, 1000.0),
        (),
        *_origin(c),
    )


def run_row(c: Cells) -> Owned[Window]:
    model = c.text("model")
    return Owned(model, (model,), c.window("volume"))


def expected_row(c: Cells) -> Owned[ExpectedPart]:
    part = ExpectedPart(
        c.text("id"), c.text("class"), c.text("assembly"), c.words("kinds"), c.text("place", "")
    )
    return Owned(part.id, c.words("models"), part)


def supply_row(c: Cells) -> Supply:
    return Supply(
        c.text("number"),
        c.text("name"),
        c.text("class"),
        c.window("share"),
        c.number("softness_weeks", 0.0, 1000.0),
        c.words("models"),
        *_origin(c),
    )


def feature_row(c: Cells) -> Feature:
    return Feature(
        c.text("id"),
        c.text("title"),
        c.text("part"),
        c.text("group", c.text("id")),
        _share(c, "cost_to_fake"),
        c.number("softness_weeks", 0.0, 1000.0),
        (),
        c.text("level", "outside"),
        c.number_or("minutes", 1.0, 0.01, 1000.0),
        *_origin(c),
    )


def feature_value_row(c: Cells) -> Owned[FeatureValue]:
    models = c.words("models")
    return Owned(
        c.text("feature"), models, FeatureValue(c.text("value"), c.window("share"), models)
    )


def quantity_row(c: Cells) -> tuple[Quantity, dict[str, float]]:
    quantity = Quantity(
        c.text("id"),
        c.text("title"),
        c.text("part"),
        c.text("unit"),
        _share(c, "cost_to_fake"),
        c.number("softness_weeks", 0.0, 1000.0),
        (),
        c.text("level", "outside"),
        c.number_or("minutes", 3.0, 0.01, 1000.0),
        *_origin(c),
    )
    return quantity, c.factors("factors")


def alternative_row(c: Cells) -> Owned[Alternative]:
    models = c.words("models")
    row = Alternative(
        c.text("value"), c.number("mean"), c.number("sd", 1e-12), c.window("share"), models
    )
    return Owned(c.text("quantity"), models, row)
