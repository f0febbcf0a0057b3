"""From read marks to units: what hangs together, and what each unit is made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..dossier.types import Mark, Part, Repair
from .factors import PartEvidence, Read, dated_texts, factors_of, is_dated
from .observe import existed
from .plan import Kind, Plan
from .setting import Setting
from .time import Array
from .undated import Undated, UndatedPart, feature_patterns
from .units import AmpUnit, DatedUnit, RepairedUnit, UndatedUnit, Unit
from .weeks import week_of
from .workspace import Same

MOST_KINDS = 6
"""Different texts in one group of deliveries; what goes beyond is weighed as a group of its own."""


def gather(
    parts: Sequence[Part], read: Sequence[Read], repairs: Sequence[Repair]
) -> tuple[PartEvidence, ...]:
    """Everything seen, part by part, in the order of the dossier's parts.

    The last known replacement of a part counts. Parts without marks stay: their prior is all there
    is.
    """
    by_part: dict[str, list[Read]] = {}
    for mark, reading in read:
        by_part.setdefault(mark.part, []).append((mark, reading))
    last = {r.part: r for r in repairs if r.replaced}
    return tuple(PartEvidence(p, tuple(by_part.get(p.id, ())), last.get(p.id)) for p in parts)


def without(evidence: Sequence[PartEvidence], n: int) -> tuple[PartEvidence, ...]:
    """The same without mark n."""
    return tuple(
        replace(e, read=tuple(r for r in e.read if r[0].n != n))
        if any(mark.n == n for mark, _ in e.read)
        else e
        for e in evidence
    )


def build(evidence: Sequence[PartEvidence], setting: Setting) -> tuple[Unit, ...]:
    """All units of a dossier, in a stated order: amp-level, then by assembly and class, as first
    seen.
    """
    units: list[Unit] = list(amp_units(evidence, setting))
    dated: dict[tuple[str, str], list[PartEvidence]] = {}
    undated: dict[str, list[PartEvidence]] = {}
    for e in evidence:
        if e.repair is not None:
            units.append(_repaired(e, setting))
        elif is_dated(e, setting):
            dated.setdefault((e.part.assembly, e.part.part_class), []).append(e)
        else:
            undated.setdefault(e.part.assembly, []).append(e)
    for group in dated.values():
        units.extend(dated_unit(part, setting) for part in _limited(group))
    for group in undated.values():
        units.extend(_undated_units(group, setting))
    return tuple(units)


def part_units(evidence: Sequence[PartEvidence], setting: Setting) -> tuple[Unit, ...]:
    """The units of some parts only, without anything that concerns the whole amp."""
    return tuple(u for u in build(evidence, setting) if u.parts)


# -- what concerns the amp -------------------------------------------------------------------------


def amp_units(evidence: Sequence[PartEvidence], setting: Setting) -> tuple[Unit, ...]:
    """Papers, and which classes of part are there."""
    units: list[Unit] = []
    for e in evidence:
        for mark, reading in e.read:
            if reading.dating == "existed":
                last = reading.readings[0].last
                if last is not None:
                    values = existed(week_of(last), setting.grid, setting.assume)
                    units.append(AmpUnit("chassis", (mark.n,), values[None, None, :]))
    presence = present(evidence, setting)
    if presence is not None:
        units.append(AmpUnit("chassis", (), presence))
    return tuple(units)


def present(evidence: Sequence[PartEvidence], setting: Setting) -> Array | None:
    """How well the recorded classes of part fit each rival's list; shape (M, 1, 1), None: no
    difference.
    """
    recorded = {
        e.part.part_class
        for e in evidence
        if e.repair is not None or any(mark.result == "seen" for mark, _ in e.read)
    }
    expected = [{p.part_class for p in m.expected} if m else set[str]() for m in setting.models]
    known = set[str]().union(*expected)
    odd = [len(recorded & known - classes) if classes else 0 for classes in expected]
    if not any(odd):
        return None
    leak = setting.assume["part.unexpected"]
    return np.array([leak**n for n in odd])[:, None, None]


# -- units ----------------------------------------------------------------------------------------


def _limited(group: Sequence[PartEvidence]) -> list[list[PartEvidence]]:
    """Cut a group after MOST_KINDS different texts, in the order of the marks."""
    out: list[list[PartEvidence]] = [[]]
    seen: set[object] = set()
    for e in group:
        key = _text_key(e)
        if key not in seen and len(seen) == MOST_KINDS:
            out.append([])
            seen = set()
        seen.add(key)
        out[-1].append(e)
    return out


def _text_key(e: PartEvidence) -> tuple[object, ...]:
    """Parts with the same key are exchangeable: the same things were seen on them."""
    return tuple(
        sorted(
            (
                m.kind,
                m.text,
                m.legibility,
                m.result,
                str(m.feature),
                str(m.value),
                str(m.quantity),
                str(m.unit),
                str(m.uncertainty),
                str(m.date),
            )
            for m, _ in e.read
        )
    )


def dated_unit(group: Sequence[PartEvidence], setting: Setting) -> DatedUnit:
    """The deliveries of one class in one assembly; one group for all models where they don't
    differ.
    """
    part_class = group[0].part.part_class
    alike: dict[tuple[object, ...], list[PartEvidence]] = {}
    for e in group:
        alike.setdefault(_text_key(e), []).append(e)
    texts = [dated_texts(same[0], setting) for same in alike.values()]
    factors = [factors_of(same[0], setting, grouped=False) for same in alike.values()]
    prior = setting.origin_prior(part_class)
    lags, sources = setting.lags(part_class), setting.sources(part_class)

    counts = tuple(len(same) for same in alike.values())

    def make() -> Plan:
        kinds = [
            Kind(n, text, prior[0] * f.original, prior[1] * f.later, prior[2] * f.period)
            for n, text, f in zip(counts, texts, factors, strict=True)
        ]
        return Plan(kinds, lags, sources, setting.workspace)

    made_of = tuple(tuple(Same(t) for t in text) for text in texts)
    others = tuple(Same(f) for f in factors)
    key = ("plan", counts, made_of, others, prior, lags.key, Same(sources))
    plan = setting.workspace.get(key, make)
    place = {e.part.id: kind for kind, same in enumerate(alike.values()) for e in same}
    marks = tuple(mark.n for e in group for mark, _ in e.read if _weighs(mark, e))
    return DatedUnit(group[0].part.assembly, part_class, marks, plan, place)


def _weighs(mark: Mark, e: PartEvidence) -> bool:
    reading = next(r for k, r in e.read if k is mark)
    return reading.dating not in ("existed", "nothing")


def _undated_part(e: PartEvidence, setting: Setting) -> UndatedPart:
    f = factors_of(e, setting, grouped=True)
    o, l, p = setting.origin_prior(e.part.part_class)
    return UndatedPart(e.part.id, o * f.original, l * f.later, p * f.period, f.grouped)


def _undated_units(parts: Sequence[PartEvidence], setting: Setting) -> list[UndatedUnit]:
    """Parts joined by shared feature groups become one unit, in the order first seen."""
    made = [_undated_part(e, setting) for e in parts]
    group = list(range(len(made)))
    holder: dict[str, int] = {}
    for i, p in enumerate(made):
        for g in p.grouped:
            j = holder.setdefault(g.group, i)
            if group[i] != group[j]:
                group = [group[j] if x == group[i] else x for x in group]
    out: list[UndatedUnit] = []
    for g in dict.fromkeys(group):
        members = [i for i, x in enumerate(group) if x == g]
        marks = tuple(
            mark.n for i in members for mark, _ in parts[i].read if _weighs(mark, parts[i])
        )
        chosen = [made[i] for i in members]
        seen = tuple(tuple((g.group, Same(g.category), g.value) for g in p.grouped) for p in chosen)
        patterns = setting.workspace.get(("patterns", seen), lambda c=chosen: feature_patterns(c))
        unit = Undated(chosen, patterns)
        out.append(UndatedUnit(parts[members[0]].part.assembly, marks, unit))
    return out


def _repaired(e: PartEvidence, setting: Setting) -> RepairedUnit:
    """A known replacement: docs/model.md, section 7."""
    assert e.repair is not None
    ordinary_evidence = replace(e, repair=None)
    dated = is_dated(ordinary_evidence, setting)
    ordinary: Unit = (
        dated_unit([ordinary_evidence], setting)
        if dated
        else _undated_units([ordinary_evidence], setting)[0]
    )
    weeks = setting.grid.weeks_of(e.repair.first, e.repair.last)
    service = setting.lags(e.part.part_class).service
    f = factors_of(ordinary_evidence, setting, grouped=False)

    fitted: Array = np.zeros((1, setting.grid.size))
    sources = setting.sources(e.part.part_class)
    for text in dated_texts(ordinary_evidence, setting):
        shipped = text.shipped(setting.spread)
        one = mean_fitted(service.forward(shipped, setting.workspace)[0], weeks)[None, :]
        fitted = fitted + (
            one if text.source is None else one * sources.weigh([text.source]).replaced
        )
    if not dated:
        fitted = mean_fitted(np.ones(setting.grid.size), weeks)[None, :]
    ticket = fitted * f.later
    return RepairedUnit(ordinary, ticket[:, None, :], setting.assume["repair.leak"])


def mean_fitted(fitted: Array, weeks: slice) -> Array:
    """mean over R in ``weeks`` of [R > B] fitted(R); shape (size,)."""
    inside = np.zeros_like(fitted)
    inside[weeks] = fitted[weeks]
    count = max(weeks.stop - weeks.start, 1)
    out = np.zeros_like(fitted)
    out[:-1] = np.cumsum(inside[:0:-1])[::-1]
    return out / count
