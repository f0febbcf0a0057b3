"""The looks that could be made: every check, feature and measurement not yet on record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..dossier.types import Dossier, Part
from ..reference.types import Check, ExpectedPart, Feature, Quantity
from .categories import Category
from .claim import named_parts
from .factors import PartEvidence, dates_part
from .joint import Joint
from .looking import Candidate
from .observe import ASSEMBLY_KINDS
from .outcomes import (
    Look,
    PartPrior,
    assembly_look,
    code_look,
    feature_look,
    quantity_look,
    quarter_edges,
    serial_look,
    word_look,
)
from .time import Array, IntArray, on_weeks
from .verdict import MarkVerdict
from .weeks import week_of

CODES = ("source-date-code", "date-code")


@dataclass
class Around:
    """What the candidates are made from; gathered once."""

    joint: Joint
    evidence: Sequence[PartEvidence]
    dossier: Dossier
    marks: Sequence[MarkVerdict]
    weeks: IntArray
    inside: IntArray  # the same as positions among the joint's weeks
    donors: dict[str, Array] = field(default_factory=dict[str, Array])


def candidates(around: Around) -> list[Candidate]:
    """Every look not yet made that the model can foresee: one a class and kind, one a feature."""
    out: list[Candidate] = []
    reference = around.joint.setting.reference
    looked = {(m.part, m.kind) for m in around.dossier.marks}
    for check in reference.checks:
        part = _first_open(check, around, looked)
        if part is None:
            continue
        look = _look(check, part, around)
        if look is not None:
            out.append(
                _candidate(
                    check.id,
                    check.title,
                    part,
                    check.level,
                    check.minutes,
                    check.legible,
                    look,
                    around,
                )
            )
    features_seen = {m.feature for m in around.dossier.marks if m.kind == "feature"}
    for feature in reference.features.values():
        if feature.id not in features_seen and feature.id != "loudspeaker-designation":
            part = _part_named(feature.part, around)
            if part is not None:
                look = _feature(feature, part, around)
                out.append(
                    _candidate(
                        feature.id,
                        _look_at(feature.title),
                        part,
                        feature.level,
                        feature.minutes,
                        1.0,
                        look,
                        around,
                    )
                )
    measured = {m.quantity for m in around.dossier.marks if m.kind == "measured"}
    for quantity in reference.quantities.values():
        if quantity.id not in measured:
            part = _part_named(quantity.part, around)
            if part is not None:
                look = _quantity(quantity, part, around)
                out.append(
                    _candidate(
                        quantity.id,
                        f"measure the {quantity.title}",
                        part,
                        quantity.level,
                        quantity.minutes,
                        1.0,
                        look,
                        around,
                    )
                )
    return out


def _candidate(
    check: str,
    title: str,
    part: Part,
    level: str,
    minutes: float,
    legible: float,
    look: Look,
    around: Around,
) -> Candidate:
    claimed, _ = named_parts(around.dossier.claim.original, [part], around.joint.setting.reference)
    barred, _ = named_parts(around.dossier.claim.excluded, [part], around.joint.setting.reference)
    is_claimed = bool(claimed) and not barred and part.part_class != "chassis"
    known = around.joint.setting.reference.classes.get(part.part_class)
    return Candidate(
        check,
        title,
        part.id,
        known.title if known else part.id,
        level,
        minutes,
        legible,
        is_claimed,
        look,
    )


def _look_at(title: str) -> str:
    """'look at the form of the handle', but 'look at how the loudspeaker is fixed'."""
    return f"look at {title}" if title.startswith("how ") else f"look at the {title}"


def expected_parts(around: Around) -> list[Part]:
    """Parts to look at: those recorded, then those the likeliest model left with, then the usual
    ones.
    """
    joint = around.joint
    model = joint.setting.models[int(np.argmax(joint.by_model))]
    listed: Sequence[ExpectedPart] = model.expected if model is not None else ()
    parts = {p.id: p for p in around.dossier.parts}
    for e in listed:
        parts.setdefault(e.id, Part(e.id, e.part_class, e.assembly))
    if model is None:
        have = {p.part_class for p in parts.values()}
        for u in joint.setting.reference.usual_ids.values():
            if u.part_class not in have:
                parts.setdefault(u.id, Part(u.id, u.part_class, u.assembly))
    return list(parts.values())


def _first_open(check: Check, around: Around, looked: set[tuple[str, str]]) -> Part | None:
    for part in expected_parts(around):
        if part.part_class != check.part_class:
            continue
        if check.kind in CODES and any((part.id, k) in looked for k in CODES):
            continue
        if (part.id, check.kind) not in looked:
            return part
    return None


def _part_named(name: str, around: Around) -> Part | None:
    parts = expected_parts(around)
    for part in parts:
        if part.id == name:
            return part
    for part in parts:
        if part.id.rpartition("-")[0] == name:
            return part
    usual = around.joint.setting.reference.usual_ids.get(name)
    return Part(name, usual.part_class, usual.assembly) if usual else None


def _prior(part: Part, around: Around) -> PartPrior:
    """The part's origin as things stand, given model, week and stock age."""
    joint = around.joint
    if part.assembly in joint.marriages:
        b = joint.belongs(part.assembly)
        belongs = on_weeks(b, around.inside)
    else:
        belongs = np.full((1, 1, 1), 1.0 - joint.setting.married(part.assembly))
    holder = next((u for u in joint.units if part.id in u.parts), None)
    if holder is None:
        o, l, p = (np.full((1, 1, 1), x) for x in joint.setting.origin_prior(part.part_class))
    else:
        cut = holder.on(around.inside)
        o, l, p = (x / cut.values for x in cut.origins(part.id))
    elsewhere = joint.setting.origin_prior(part.part_class)
    return PartPrior(belongs * o, belongs * l, belongs * p, 1.0 - belongs, elsewhere)


def _donor(part: Part, around: Around) -> Array:
    """p(B') of the amp that a married assembly would come from."""
    if part.assembly not in around.donors:
        known = part.assembly in around.joint.marriages
        around.donors[part.assembly] = (
            around.joint.donor_by_week(part.assembly) if known else around.joint.setting.era
        )
    return around.donors[part.assembly]


def _look(check: Check, part: Part, around: Around) -> Look | None:
    setting, weeks = around.joint.setting, around.weeks
    prior = _prior(part, around)
    if check.kind in CODES:
        existing, joins = _dated_already(part, around)
        return code_look(
            setting,
            part.part_class,
            prior,
            weeks,
            fold=_one_digit(part, around),
            joins=joins,
            existing=existing,
            donor=_donor(part, around),
        )
    if check.kind == "condition":
        rows = [
            (w.if_original, w.if_later, w.if_period)
            for w in setting.reference.conditions.values()
            if w.group == "joint"
        ]
        return word_look(rows, prior) if rows else None
    if check.kind in ASSEMBLY_KINDS:
        scheme = (0, setting.grid.size)
        if check.kind == "chart-letters":
            charts = setting.reference.tables.charts
            if not charts:
                return None
            years = setting.grid.years
            first = min(c.first_year for c in charts)
            last = max(c.first_year + len(c.years) - 1 for c in charts)
            inside = np.flatnonzero((years >= first) & (years <= last))
            if inside.size == 0:
                return None
            scheme = (int(inside[0]), int(inside[-1]) + 1)
        return assembly_look(setting, check.kind, scheme, prior, weeks)
    if check.kind == "serial":
        return serial_look(setting, prior, weeks)
    if (
        check.kind == "model-designation"
        and "loudspeaker-designation" in setting.reference.features
    ):
        return _feature(setting.reference.features["loudspeaker-designation"], part, around)
    return None


def _feature(feature: Feature, part: Part, around: Around) -> Look:
    setting = around.joint.setting
    seen: list[tuple[Category, str]] = []
    if feature.group and part.assembly:
        for e in around.evidence:
            for mark, reading in e.read:
                other = setting.reference.features.get(mark.feature or "")
                if (
                    mark.kind == "feature"
                    and other is not None
                    and other.group == feature.group
                    and e.part.assembly == part.assembly
                    and reading.value is not None
                ):
                    seen.append((setting.feature(other.id), str(reading.value)))
    return feature_look(
        setting.feature(feature.id), seen, _prior(part, around), around.weeks, _donor(part, around)
    )


def _quantity(quantity: Quantity, part: Part, around: Around) -> Look:
    category = around.joint.setting.quantity(quantity.id)
    return quantity_look(
        quantity, category, _prior(part, around), around.weeks, _donor(part, around)
    )


def _one_digit(part: Part, around: Around) -> bool:
    """Whether a further code here is expected to have one year digit: as most seen do; else one."""
    here: list[int] = []
    anywhere: list[int] = []
    for e in around.evidence:
        for mark, reading in e.read:
            if mark.kind in CODES and reading.splits:
                digits = len(max(reading.splits, key=lambda s: s.weight).year)
                anywhere.append(digits)
                if e.part.part_class == part.part_class:
                    here.append(digits)
    counted = here or anywhere
    return not counted or sum(d == 1 for d in counted) * 2 >= len(counted)


def _dated_already(part: Part, around: Around) -> tuple[Array | None, float]:
    """Quarters of the dates known in this class and assembly, and the chance of sharing one of
    them.
    """
    setting = around.joint.setting
    quarters, edges = quarter_edges(setting, around.weeks)
    total = np.zeros(quarters.size)
    known = 0
    verdicts: Mapping[int, MarkVerdict] = {m.mark.n: m for m in around.marks}
    for e in around.evidence:
        if (e.part.part_class, e.part.assembly) != (part.part_class, part.assembly):
            continue
        for mark, reading in e.read:
            if not dates_part(mark, reading, e.part, setting):
                continue
            known += 1
            for r in verdicts[mark.n].readings if mark.n in verdicts else ():
                if r.first is not None:
                    at = int(np.searchsorted(edges, week_of(r.first), side="right")) - 1
                    if 0 <= at < total.size:
                        total[at] += r.p
            break
    if not known or total.sum() <= 0:
        return None, 0.0
    alpha = setting.assume["delivery.concentration"]
    return total / total.sum(), known / (known + alpha)


def setup_minutes(level: str, around: Around) -> float:
    """Minutes to get to a level that no mark shows to have been reached."""
    setting = around.joint.setting
    order = {name: i for i, name in enumerate(setting.reference.levels)}
    classes = {e.part.id: e.part.part_class for e in around.evidence}
    at = {(c.part_class, c.kind): order.get(c.level, 0) for c in setting.reference.checks}
    reached = max(
        (at.get((classes.get(m.part, ""), m.kind), 0) for m in around.dossier.marks), default=0
    )
    if order.get(level, 0) <= reached:
        return 0.0
    return setting.assume.get(f"level.{level}.setup_minutes", 0.0)
