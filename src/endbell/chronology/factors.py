"""What the marks of one part say: which of them date it, and what the others say of origin and
week.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..dossier.types import Mark, Part, Repair
from ..marks import MarkReading
from .categories import measured_fit
from .dates import Dates
from .observe import ASSEMBLY_KINDS, final_assembly, label, printed, serial
from .plan import DatedText
from .setting import Setting
from .texts import interval_likelihood, week_likelihood
from .time import Array
from .undated import Grouped
from .workspace import Same

Read = tuple[Mark, MarkReading]

DATING = ("week-code", "dated", "terms", "not-before")


@dataclass(frozen=True, eq=False)
class PartEvidence:
    """A part with everything seen on it."""

    part: Part
    read: tuple[Read, ...]
    repair: Repair | None = None


@dataclass(frozen=True, eq=False)
class Factors:
    """What the marks that don't date a part say under each origin; arrays (M or 1, size or 1)."""

    original: Array
    later: Array
    period: Array
    grouped: tuple[Grouped, ...]


NO_FACTORS = Factors(np.ones((1, 1)), np.ones((1, 1)), np.ones((1, 1)), ())


def is_dated(e: PartEvidence, setting: Setting) -> bool:
    """Whether the part bears a mark that dates it (docs/model.md, section 6)."""
    return any(dates_part(mark, reading, e.part, setting) for mark, reading in e.read)


def dates_part(mark: Mark, reading: MarkReading, part: Part, setting: Setting) -> bool:
    """Week codes and letter codes date any part; other dates those of a dated class; charts
    never.
    """
    if reading.dating not in DATING or mark.kind == "chart-letters":
        return False
    if mark.kind in ("source-date-code", "date-code"):
        return True
    known = setting.reference.classes.get(part.part_class)
    return known is not None and known.dated


def texts_of(mark: Mark, reading: MarkReading, setting: Setting) -> tuple[DatedText, ...]:
    """t(w) of one mark, by the source characters it can have."""
    grid, assume = setting.grid, setting.assume
    if reading.dating == "week-code":
        coded = mark.kind == "source-date-code"
        use = setting.in_use if coded else np.ones(grid.size)
        made: dict[tuple[object, ...] | None, Array] = {}
        for split in reading.splits:
            key = split.source or None
            t = week_likelihood(split, grid, assume, use)
            made[key] = made[key] + t if key in made else t
        dated = ((k, Dates.of(t)) for k, t in made.items())
        return tuple(DatedText(k, t) for k, t in dated if t.possible)  # type: ignore[arg-type]
    if reading.dating == "dated":
        return (DatedText(None, Dates.of(interval_likelihood(reading.readings, grid))),)
    t = printed(reading, np.arange(grid.size, dtype=np.float64), assume)
    return (DatedText(None, Dates.of(t)),)


def dated_texts(e: PartEvidence, setting: Setting) -> tuple[DatedText, ...]:
    """What all dating marks of a part say together: one source, one week."""
    out: tuple[DatedText, ...] | None = None
    for mark, reading in e.read:
        if not dates_part(mark, reading, e.part, setting):
            continue
        key = ("texts", Same(reading), mark.kind, setting.code_key)
        texts = setting.workspace.get(key, lambda m=mark, r=reading: texts_of(m, r, setting))
        if out is None:
            out = texts
            continue
        out = tuple(
            DatedText(source, a.made.times(b.made))
            for a in out
            for b in texts
            for source in _same_source(a, b)
        )
    return tuple(t for t in out or () if t.made.possible)


def _same_source(a: DatedText, b: DatedText) -> tuple[tuple[tuple[float, ...], ...] | None, ...]:
    if a.source is None or b.source is None:
        return (a.source or b.source,)
    if len(a.source) != len(b.source):
        return ()
    return (
        tuple(
            tuple(x * y for x, y in zip(v, w, strict=True))
            for v, w in zip(a.source, b.source, strict=True)
        ),
    )


def factors_of(e: PartEvidence, setting: Setting, *, grouped: bool) -> Factors:
    """Everything on a part that doesn't date it, under each origin.

    ``grouped``: keep features of a group apart, to be summed together with the other parts'.  All
    terms and patent numbers on a part were printed together.
    """
    groups: list[Grouped] = []
    alone: list[tuple[Array, Array, Array]] = []
    printed_on = [
        r
        for m, r in e.read
        if r.dating in ("terms", "not-before") and not dates_part(m, r, e.part, setting)
    ]
    for mark, reading in e.read:
        if len(printed_on) > 1 and reading in printed_on:
            continue
        found = factor(mark, reading, e.part, setting)
        if found is None:
            continue
        if grouped and mark.kind == "feature" and mark.feature is not None:
            group = setting.reference.features[mark.feature].group
            if group:
                groups.append(Grouped(group, setting.feature(mark.feature), str(reading.value)))
                continue
        alone.append(found)
    if len(printed_on) > 1:
        key = ("label", tuple(Same(r) for r in printed_on), setting.mark_key)
        alone.append(setting.workspace.get(key, lambda: _label(printed_on, setting)))
    if not alone:
        return replace(NO_FACTORS, grouped=tuple(groups)) if groups else NO_FACTORS
    if groups:
        return Factors(*_multiplied(alone), tuple(groups))
    key = ("factors", tuple(Same(f) for f in alone))
    return setting.workspace.get(key, lambda: Factors(*_multiplied(alone), ()))


def _label(printed_on: Sequence[MarkReading], setting: Setting) -> tuple[Array, Array, Array]:
    g, mean = label(printed_on, setting.grid, setting.assume)
    return g[None, :], np.full((1, 1), mean), np.full((1, 1), mean)


def _multiplied(found: Sequence[tuple[Array, Array, Array]]) -> tuple[Array, Array, Array]:
    original, later, period = found[0]
    for o, l, p in found[1:]:
        original, later, period = original * o, later * l, period * p
    return original, later, period


def factor(
    mark: Mark, reading: MarkReading, part: Part, setting: Setting
) -> tuple[Array, Array, Array] | None:
    """P(mark | original, later, period) of a mark that doesn't date its part; arrays (M or 1, size
    or 1).
    """
    if dates_part(mark, reading, part, setting) or reading.dating in ("existed", "nothing"):
        return None
    key = (
        "factor",
        Same(reading),
        mark.kind,
        mark.feature,
        mark.quantity,
        part.part_class,
        setting.mark_key,
    )
    return setting.workspace.get(key, lambda: _factor(mark, reading, part, setting))


def _factor(
    mark: Mark, reading: MarkReading, part: Part, setting: Setting
) -> tuple[Array, Array, Array] | None:
    grid, assume, reference = setting.grid, setting.assume, setting.reference
    if reading.dating == "nothing-found":
        return _nothing_found(mark, part, setting)
    if mark.kind in ASSEMBLY_KINDS:
        near, mean = final_assembly(reading, mark.kind, grid, assume)
        return near[None, :], np.full((1, 1), mean), np.full((1, 1), mean)
    if reading.dating in ("terms", "not-before"):
        g, mean = label((reading,), grid, assume)
        return g[None, :], np.full((1, 1), mean), np.full((1, 1), mean)
    if reading.dating == "serial":
        density, flat = serial(reading, reference.tables.serials, setting.names, grid, assume)
        return density, np.full((1, 1), flat), np.full((1, 1), flat)
    if reading.dating == "word":
        word = reference.conditions[str(reading.value)]
        return tuple(  # type: ignore[return-value]
            np.full((1, 1), p) for p in (word.if_original, word.if_later, word.if_period)
        )
    if (
        reading.dating == "measured"
        and mark.quantity in reference.quantities
        and reading.number is not None
    ):
        quantity = reference.quantities[str(mark.quantity)]
        kinds = setting.quantity(quantity.id)
        fit = measured_fit(
            quantity, reading.number, reading.uncertainty, kinds.values, assume["feature.leak"]
        )
        original = np.tensordot(fit, kinds.original, axes=1)
        replaced = (1.0 - kinds.cost) * fit @ kinds.match + kinds.cost * fit.mean()
        return original, replaced[:, None], replaced[:, None]
    if reading.dating == "value":
        name = mark.feature if mark.kind == "feature" else "loudspeaker-designation"
        if name not in reference.features:
            return None
        category = setting.feature(str(name))
        replaced = category.replaced(str(reading.value))
        return category.seen(str(reading.value)), replaced, replaced
    return None


def _nothing_found(mark: Mark, part: Part, setting: Setting) -> tuple[Array, Array, Array] | None:
    for check in setting.reference.checks:
        if check.part_class == part.part_class and check.kind == mark.kind:
            if check.found_original is None or check.found_replaced is None:
                return None
            a, b = (
                np.full((1, 1), 1 - check.found_original),
                np.full((1, 1), 1 - check.found_replaced),
            )
            return a, b, b
    return None
