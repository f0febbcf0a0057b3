"""From merged rows to the one :class:`Reference`: rows are put where the model looks for them."""

from __future__ import annotations

import math
import string
from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar, cast

from ..marks.tables import (
    CodeGrammar,
    CodeShape,
    Confusion,
    FeatureWords,
    LetterDates,
    QuantityWords,
    Tables,
)
from . import tables as t
from .load import Pack, Row
from .rows import ConfusionRow, Owned
from .tables import Table
from .types import Feature, Model, PackStamp, Quantity, Reference

T = TypeVar("T")
ABSENT = "absent"  # every feature may be found absent


class _Rows:
    """Merged rows by table, with the models of a row that names none filled in where needed."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self.by_table: dict[str, list[Row]] = {}
        for row in rows:
            self.by_table.setdefault(row.table, []).append(row)
        self.models_of: dict[str, tuple[str, ...]] = {}
        for row in self.by_table.get(t.MODEL.name, ()):
            pack = row.raw.pack
            self.models_of[pack] = (*self.models_of.get(pack, ()), cast("Model", row.value).id)

    def of(self, table: Table[T]) -> list[T]:
        """The records of one table, in order."""
        return [cast("T", row.value) for row in self.by_table.get(table.name, ())]

    def with_models(self, table: Table[T]) -> list[tuple[T, tuple[str, ...]]]:
        """Records of a table whose rows name models, with the models each is meant for.

        No model named means all models of the row's own pack. With one pack of models that is
        simply everything, and stays empty; beside another maker's models it has to be said.
        """
        several = len(self.models_of) > 1
        found: list[tuple[T, tuple[str, ...]]] = []
        for row in self.by_table.get(table.name, ()):
            models = cast("tuple[str, ...]", getattr(row.value, "models"))  # noqa: B009
            own = self.models_of.get(row.raw.pack, ()) if several else ()
            found.append((cast("T", row.value), models or own))
        return found


def reference_from(packs: Sequence[Pack], rows: Sequence[Row]) -> Reference:
    """The reference that the merged ``rows`` of ``packs`` make up."""
    merged = _Rows(rows)
    features = {row.id: row for row in _features(merged)}
    quantities = {row.id: row for row in _quantities(merged)}
    return Reference(
        packs=tuple(PackStamp(p.raw.id, p.raw.version, p.raw.sha256) for p in packs),
        tables=_tables(merged, features),
        assumptions={row.name: row for row in merged.of(t.ASSUMPTION)},
        classes={row.id: row for row in merged.of(t.CLASS)},
        usual_ids={row.id: row for row in merged.of(t.USUAL_ID)},
        assemblies=tuple(merged.of(t.ASSEMBLY)),
        models=_models(merged),
        supplies=tuple(replace(row, models=models) for row, models in merged.with_models(t.SUPPLY)),
        features=features,
        quantities=quantities,
        conditions={row.word: row for row in merged.of(t.CONDITION)},
        checks=tuple(merged.of(t.CHECK)),
        part_words=tuple(merged.of(t.PART_WORD)),
        era=tuple(sorted(merged.of(t.ERA), key=lambda knot: knot.year)),
        cautions=dict(merged.of(t.CAUTION)),
    )


def _models(merged: _Rows) -> tuple[Model, ...]:
    default = {row.name: row.value for row in merged.of(t.ASSUMPTION)}["model.odds_default"]
    runs = merged.of(t.RUN)
    expected = merged.with_models(t.EXPECTED)
    return tuple(
        replace(
            model,
            odds=default if math.isnan(model.odds) else model.odds,
            runs=tuple(run.row for run in runs if run.owner == model.id),
            expected=tuple(
                part.row for part, models in expected if not models or model.id in models
            ),
        )
        for model in merged.of(t.MODEL)
    )


def _features(merged: _Rows) -> list[Feature]:
    values = merged.with_models(t.FEATURE_VALUE)
    return [replace(feature, values=_owned(feature.id, values)) for feature in merged.of(t.FEATURE)]


def _quantities(merged: _Rows) -> list[Quantity]:
    alternatives = merged.with_models(t.ALTERNATIVE)
    return [
        replace(quantity, alternatives=_owned(quantity.id, alternatives))
        for quantity, _ in merged.of(t.QUANTITY)
    ]


def _owned(owner: str, rows: Sequence[tuple[Owned[T], tuple[str, ...]]]) -> tuple[T, ...]:
    return tuple(
        replace(row.row, models=models)  # pyright: ignore
        for row, models in rows
        if row.owner == owner
    )


def _tables(merged: _Rows, features: dict[str, Feature]) -> Tables:
    letters = merged.of(t.LETTER_YEAR)
    supplied = {row.number: row.name for row in merged.of(t.SUPPLY)}
    return Tables(
        digits=_confusion(string.digits, merged.of(t.DIGIT_CONFUSION)),
        letters=_confusion(string.ascii_uppercase, merged.of(t.LETTER_CONFUSION)),
        grammar=_grammar(merged),
        letter_dates=LetterDates(dict(letters), dict(merged.of(t.LETTER_MONTH))),
        charts=tuple(merged.of(t.CHART)),
        serials=tuple(replace(row, models=models) for row, models in merged.with_models(t.SERIAL)),
        # A term nobody can recognise in text stays in the pack for people to read.
        terms=tuple(row for row in merged.of(t.TERM) if row.patterns),
        patents=tuple(sorted(merged.of(t.PATENT_YEAR), key=lambda row: row.year)),
        designations=tuple(merged.of(t.DESIGNATION)),
        features={name: _words(feature) for name, feature in features.items()},
        quantities={
            row.id: QuantityWords(row.id, row.unit, {row.unit: 1.0, **factors})
            for row, factors in merged.of(t.QUANTITY)
        },
        conditions=tuple(row.word for row in merged.of(t.CONDITION)),
        sources={**supplied, **dict(merged.of(t.SOURCE_NUMBER))},
    )


def _words(feature: Feature) -> FeatureWords:
    values = dict.fromkeys((*(row.value for row in feature.values), ABSENT))
    return FeatureWords(feature.id, feature.part, tuple(values))


def _confusion(alphabet: str, rows: Sequence[ConfusionRow]) -> dict[str, Confusion]:
    found = {(row.legibility, row.true): row.p for row in rows}
    kinds = dict.fromkeys(row.legibility for row in rows)
    return {
        kind: Confusion(alphabet, tuple(found[kind, true] for true in alphabet)) for kind in kinds
    }


def _grammar(merged: _Rows) -> CodeGrammar:
    row = merged.of(t.GRAMMAR)[-1]
    assumed = {a.name: a for a in merged.of(t.ASSUMPTION)}
    shapes: tuple[CodeShape, ...] = tuple(merged.of(t.CODE_SHAPE))
    return CodeGrammar(
        shapes,
        row.choice_slack,
        row.lost_ratio,
        row.stray_end,
        row.separators,
        row.first_week,
        row.last_week,
        source_length_share={
            int(name.rpartition(".")[2]): share.value
            for name, share in assumed.items()
            if name.startswith("source.length_share.")
        },
        scheme_from=int(assumed["scheme.first_year"].value),
    )
