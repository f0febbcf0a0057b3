"""The tables a pack may hold: how a row is built, which rows replace which, what leans on what.

A later pack's rows replace all earlier rows with the same key; within one pack rows with the same
key stand side by side, except where ``unique`` says that one is all there can be.
"""

from __future__ import annotations

import string
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from . import rows
from .cells import Cells
from .types import EraKnot, PartClass, PartWord, UsualId

T = TypeVar("T")
Refs = tuple[tuple[str, str], ...]
ROWS_OF = ("run", "feature_value", "alternative")
"""Kinds of reference that ask for a row of that table, not for a name."""

_LAGS = ("median_weeks", "sigma", "old_stock_weight", "old_stock_mean_weeks", "early_weight")


def _none(_: object) -> Refs:
    return ()


@dataclass(frozen=True, slots=True)
class Table(Generic[T]):
    """One table: how its rows are built, their key, the (kind, id) pairs they need and provide."""

    name: str
    build: Callable[[Cells], T]
    key: Callable[[T], Hashable]
    unique: bool = True
    refs: Callable[[T], Refs] = _none
    provides: Callable[[T], Refs] = _none


def _models(models: tuple[str, ...]) -> Refs:
    return tuple(("model", model) for model in models)


def _assumptions_of(row: PartClass) -> Refs:
    lags = (f"lag.{row.id}.{word}" for word in _LAGS) if row.dated else ()
    return tuple(("assumption", name) for name in (f"replaced.{row.id}.probability", *lags))


def _whole_matrix(name: str, alphabet: str) -> Callable[[rows.ConfusionRow], Refs]:
    return lambda r: tuple((f"{r.legibility} {name} row", true) for true in alphabet)


def _matrix_row(name: str) -> Callable[[rows.ConfusionRow], Refs]:
    return lambda r: ((f"{r.legibility} {name} row", r.true),)


ASSUMPTION = Table(
    "assumption",
    rows.assumption_row,
    lambda r: r.name,
    provides=lambda r: (("assumption", r.name),),
)
CLASS = Table(
    "class",
    rows.class_row,
    lambda r: r.id,
    refs=_assumptions_of,
    provides=lambda r: (("class", r.id),),
)
USUAL_ID = Table(
    "usual_id",
    lambda c: UsualId(c.text("id"), c.text("class"), c.text("assembly")),
    lambda r: r.id,
    refs=lambda r: (("class", r.part_class), ("assembly", r.assembly)),
    provides=lambda r: (("part", r.id),),
)
ASSEMBLY = Table(
    "assembly", lambda c: c.text("id"), lambda r: r, provides=lambda r: (("assembly", r),)
)
CAUTION = Table("caution", lambda c: (c.text("level"), c.text("text")), lambda r: r[0])
PART_WORD = Table(
    "part_word",
    lambda c: PartWord(c.text("word"), c.number("low", 0.0, 1.0), c.number("high", 0.0, 1.0)),
    lambda _: "all",
    unique=False,
)
ERA = Table(
    "era",
    lambda c: EraKnot(c.whole("year", *rows.YEARS), c.number("weight", 0.0)),
    lambda _: "all",
    unique=False,
)
CONDITION = Table("condition", rows.condition_row, lambda r: r.word)
CHECK = Table("check", rows.check_row, lambda r: r.id, refs=lambda r: (("class", r.part_class),))
DIGIT_CONFUSION = Table(
    "digit_confusion",
    rows.confusion_row(string.digits),
    lambda r: ("digit", r.legibility),
    unique=False,
    refs=_whole_matrix("digit", string.digits),
    provides=_matrix_row("digit"),
)
LETTER_CONFUSION = Table(
    "letter_confusion",
    rows.confusion_row(string.ascii_uppercase),
    lambda r: ("letter", r.legibility),
    unique=False,
    refs=_whole_matrix("letter", string.ascii_uppercase),
    provides=_matrix_row("letter"),
)
GRAMMAR = Table("grammar", rows.grammar_row, lambda _: "all")
CODE_SHAPE = Table("code_shape", rows.shape_row, lambda _: "all", unique=False)
LETTER_YEAR = Table("letter_year", rows.letter_year_row, lambda r: r[0])
LETTER_MONTH = Table(
    "letter_month", lambda c: (c.text("letter"), c.whole("month", 1, 12)), lambda r: r[0]
)
CHART = Table("chart", rows.chart_row, lambda r: r.id)
SERIAL = Table("serial", rows.serial_row, lambda r: r.id, refs=lambda r: _models(r.models))
TERM = Table("term", rows.term_row, lambda r: r.id)
PATENT_YEAR = Table("patent_year", rows.patent_row, lambda r: r.year)
DESIGNATION = Table("designation", rows.designation_row, lambda r: r.id)
MODEL = Table(
    "model",
    rows.model_row,
    lambda r: r.id,
    refs=lambda r: (("run", r.id),),
    provides=lambda r: (("model", r.id),),
)
RUN = Table(
    "run",
    rows.run_row,
    lambda r: r.owner,
    unique=False,
    refs=lambda r: _models(r.models),
    provides=lambda r: (("run", r.owner),),
)
EXPECTED = Table(
    "expected",
    rows.expected_row,
    lambda r: (r.owner, r.models),
    refs=lambda r: (*_models(r.models), ("class", r.row.part_class), ("assembly", r.row.assembly)),
    provides=lambda r: (("part", r.owner),),
)
SUPPLY = Table(
    "supply",
    rows.supply_row,
    lambda r: (r.part_class, r.number, r.models),
    unique=False,
    refs=lambda r: (("class", r.part_class), *_models(r.models)),
)
SOURCE_NUMBER = Table("source_number", lambda c: (c.text("number"), c.text("name")), lambda r: r[0])
FEATURE = Table(
    "feature",
    rows.feature_row,
    lambda r: r.id,
    refs=lambda r: (("part", r.part), ("feature_value", r.id)),
    provides=lambda r: (("feature", r.id),),
)
FEATURE_VALUE = Table(
    "feature_value",
    rows.feature_value_row,
    lambda r: (r.owner, r.row.value, r.models),
    unique=False,
    refs=lambda r: (("feature", r.owner), *_models(r.models)),
    provides=lambda r: (("feature_value", r.owner),),
)
QUANTITY = Table(
    "quantity",
    rows.quantity_row,
    lambda r: r[0].id,
    refs=lambda r: (("part", r[0].part), ("alternative", r[0].id)),
    provides=lambda r: (("quantity", r[0].id),),
)
ALTERNATIVE = Table(
    "alternative",
    rows.alternative_row,
    lambda r: (r.owner, r.row.value, r.models),
    unique=False,
    refs=lambda r: (("quantity", r.owner), *_models(r.models)),
    provides=lambda r: (("alternative", r.owner),),
)

TABLES: dict[str, Table[Any]] = {
    table.name: table
    for table in (
        ASSUMPTION, CLASS, USUAL_ID, ASSEMBLY, CAUTION, PART_WORD, ERA, CONDITION, CHECK,
        DIGIT_CONFUSION, LETTER_CONFUSION, GRAMMAR, CODE_SHAPE, LETTER_YEAR, LETTER_MONTH, CHART,
        SERIAL, TERM, PATENT_YEAR, DESIGNATION, MODEL, RUN, EXPECTED, SUPPLY, SOURCE_NUMBER,
        FEATURE, FEATURE_VALUE, QUANTITY, ALTERNATIVE,
    )
}  # fmt: skip
"""Every table a pack may hold, by its name: ``[[name]]`` in TOML, ``name.csv``."""
