"""Which look is worth its minutes: expected information, one look and two looks ahead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..dossier.types import Dossier, Part
from ..reference.types import Check, ExpectedPart, Feature, Quantity
from .claim import claim_models, claim_weeks, claimed_parts, named_parts
from .evidence import PartEvidence, dates_part
from .joint import Joint
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
from .time import Array, IntArray, week_of
from .verdict import MarkVerdict, NextCheck

ENOUGH = 1e-7  # weeks of less weight are left out of expected information
MOST_WEEKS = 400  # beyond these, neighbouring weeks are taken together
RARE = 0.004  # outcomes of a first look less likely than this are taken together
BEST = 5
CODES = ("source-date-code", "date-code")


@dataclass(frozen=True, eq=False)
class Candidate:
    """A look that could be made: what, where, how long, and what it could find."""

    check: str
    title: str
    part: str
    part_title: str
    level: str
    minutes: float
    legible: float
    claimed: bool
    look: Look


@dataclass(frozen=True, eq=False)
class _View:
    """The joint on the weeks that matter, split by whether the claim holds. Axes (M, U, active)."""

    weeks: IntArray
    holds: Array
    fails: Array
    years: IntArray  # start index of every year among the weeks


@dataclass
class _Around:
    """What the candidates are made from; gathered once."""

    joint: Joint
    evidence: Sequence[PartEvidence]
    dossier: Dossier
    marks: Sequence[MarkVerdict]
    weeks: IntArray
    inside: IntArray  # the same as positions among the joint's weeks
    donors: dict[str, Array] = field(default_factory=dict[str, Array])


def next_checks(
    joint: Joint,
    evidence: Sequence[PartEvidence],
    dossier: Dossier,
    marks: Sequence[MarkVerdict],
    looks: int,
) -> tuple[tuple[NextCheck, ...], str]:
    """Looks worth their minutes, by level (outside first), best first within a level, and a sentence.

    Raises nothing; with ``looks`` 0 nothing is worked out.
    """
    if looks < 1:
        return (), ""
    setting = joint.setting
    view, inside = _view(joint, dossier)
    around = _Around(joint, evidence, dossier, marks, view.weeks, inside)
    stop = setting.assume["next.stop_bits_per_minute"]
    gains: list[tuple[Candidate, float]] = []
    for c in candidates(around):
        gain = c.legible * float(information(view, view.holds[None], view.fails[None], c)[0])
        if gain / c.minutes >= stop:
            gains.append((c, gain))
    if not gains:
        return (), "Nothing left is worth its minutes."
    order = {level: i for i, level in enumerate(setting.reference.levels)}
    gains.sort(
        key=lambda g: (order.get(g[0].level, 9), -g[1] / g[0].minutes, g[0].check, g[0].part)
    )
    cautions = setting.reference.cautions
    out = [
        NextCheck(
            check=c.check,
            title=c.title,
            part=c.part,
            level=c.level,
            minutes=c.minutes,
            gain_bits=gain,
            bits_per_minute=gain / c.minutes,
            settles=_settles(view, c),
            caution=cautions.get(c.level, ""),
            setup_minutes=_setup(c.level, around),
        )
        for c, gain in gains
    ]
    if looks > 1:
        out = _second_looks(view, gains, out)
    best = best_of(out)
    setup = f" after {best.setup_minutes:g} to get there" if best.setup_minutes else ""
    return tuple(out), (
        f"Best for its minutes: {best.title} ({best.part}), {best.minutes:g} min{setup}, {best.level}."
    )


def best_of(checks: Sequence[NextCheck]) -> NextCheck:
    """The look that tells most a minute, the minutes to get to its level counted in."""
    return max(checks, key=lambda n: n.gain_bits / (n.minutes + n.setup_minutes))


def _setup(level: str, around: _Around) -> float:
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


# -- information -----------------------------------------------------------------------------------


def _view(joint: Joint, dossier: Dossier) -> tuple[_View, IntArray]:
    """The joint where it carries weight, and the positions of its weeks.

    Where many weeks carry weight, neighbours of one year are taken together and their middle week
    stands for them: a look's worth doesn't hang on single weeks then.
    """
    inside = np.flatnonzero(joint.weight.sum(axis=(0, 1)) > ENOUGH)
    claimed = claimed_parts(dossier, joint)
    built, models = claim_weeks(dossier, joint), claim_models(dossier, joint)
    weight = joint.weight[:, :, inside]
    if built is None and models is None and not claimed:
        holds = np.zeros_like(weight)
    else:
        at = np.searchsorted(joint.active, inside)
        given = joint.conditional(claimed)
        holds = weight * (given[:, :, at] if given.shape[2] > 1 else given)
        if built is not None:
            holds = holds * built[joint.weeks[inside]]
        if models is not None:
            holds = holds * models[:, None, None]
    years = joint.setting.grid.years[joint.weeks[inside]]
    step = -(-inside.size // MOST_WEEKS)
    if step > 1:
        year_start = np.flatnonzero(np.diff(years, prepend=-1))
        place = np.arange(inside.size) - np.repeat(
            year_start, np.diff(np.append(year_start, inside.size))
        )
        starts = np.flatnonzero(place % step == 0)
        middle = (starts + np.append(starts[1:], inside.size) - 1) // 2
        holds = np.add.reduceat(holds, starts, axis=2)
        weight = np.add.reduceat(weight, starts, axis=2)
        inside, years = inside[middle], years[middle]
    weeks = joint.weeks[inside]
    view = _View(weeks, holds, weight - holds, np.flatnonzero(np.diff(years, prepend=-1)))
    return view, inside


def _by_year(weights: Array, table: Array, years: IntArray) -> Array:
    """sum over m, u and each year's weeks of weights * table; (n1, years, n2).

    ``weights``: (n1, M, U, weeks); ``table``: (n2, M or 1, U or 1, weeks or 1).
    """
    axes = tuple(i for i in (1, 2) if table.shape[i] == 1 and weights.shape[i] > 1)
    held = weights.sum(axis=axes, keepdims=True) if axes else weights
    ends = np.append(years[1:], held.shape[3])
    out = np.empty((held.shape[0], years.size, table.shape[0]))
    for y, (lo, hi) in enumerate(zip(years.tolist(), ends.tolist(), strict=True)):
        w = held[:, :, :, lo:hi]
        if table.shape[3] == 1:
            t, w = table, w.sum(axis=3, keepdims=True)
        else:
            t = table[:, :, :, lo:hi]
        if t.shape[1:] != w.shape[1:]:
            t = np.broadcast_to(t, (t.shape[0], *w.shape[1:]))
        out[:, y] = w.reshape(w.shape[0], -1) @ t.reshape(t.shape[0], -1).T
    return out


def outcome_tables(view: _View, holds: Array, fails: Array, c: Candidate) -> Array:
    """P(year, claim and origin, outcome) in n1 situations, shape (n1, years, states, outcomes)."""
    o, n = c.look.original, c.look.other
    if c.claimed:
        states = [
            _by_year(holds, o, view.years),
            _by_year(fails, o, view.years),
            _by_year(holds + fails, n, view.years),
        ]
    else:
        states = [_by_year(w, o + n, view.years) for w in (holds, fails)]
    return np.stack(states, axis=2)


def information(view: _View, holds: Array, fails: Array, c: Candidate) -> Array:
    """Mutual information, in bits, of the outcome with (year of B, the claim holds, origin); (n1,)."""
    return _bits(outcome_tables(view, holds, fails, c))


def _bits(p: Array) -> Array:
    """Mutual information of the last axis with the ones before it, for each situation; (n1,)."""
    p = p.reshape(p.shape[0], -1, p.shape[-1])
    whole = p.sum(axis=(1, 2), keepdims=True)
    p = p / np.where(whole > 0, whole, 1.0)
    found = _entropy(p.sum(axis=2)) + _entropy(p.sum(axis=1)) - _entropy(p.reshape(p.shape[0], -1))
    return np.maximum(found, 0.0)


def _entropy(p: Array) -> Array:
    return -(p * np.log2(np.where(p > 0, p, 1.0))).sum(axis=1)


def _settles(view: _View, c: Candidate) -> str:
    """What the look is about: whichever it tells most of, taken alone."""
    p = outcome_tables(view, view.holds[None], view.fails[None], c)
    year = float(_bits(p.sum(axis=2))[0])
    if c.claimed:
        by_origin = np.stack([p[:, :, 0] + p[:, :, 1], p[:, :, 2]], axis=1).sum(axis=2)
        if float(_bits(by_origin)[0]) > year:
            return f"origin of {c.part}"
    return "year of build"


def _second_looks(
    view: _View, gains: Sequence[tuple[Candidate, float]], out: Sequence[NextCheck]
) -> list[NextCheck]:
    """For the best five by minutes: what the best look after it would add, outcome by outcome."""
    best = sorted(range(len(gains)), key=lambda i: -gains[i][1] / gains[i][0].minutes)[:BEST]
    done = list(out)
    for i in best:
        first, gain = gains[i]
        others = [gains[j][0] for j in best if j != i]
        if not others:
            continue
        holds, fails = _after(view, first)
        mass = holds.sum(axis=(1, 2, 3)) + fails.sum(axis=(1, 2, 3))
        each = np.stack([c.legible * information(view, holds, fails, c) for c in others])
        adds = each @ mass
        best_after = float(each.max(axis=0) @ mass)
        unread = np.array([gains[j][1] for j in best if j != i])
        adds = first.legible * adds + (1 - first.legible) * unread
        best_after = first.legible * best_after + (1 - first.legible) * float(unread.max())
        then = others[int(np.argmax(adds))]
        done[i] = replace(done[i], then_bits=gain + best_after, then=f"{then.title} ({then.part})")
    return done


def _after(view: _View, c: Candidate) -> tuple[Array, Array]:
    """The joint after every outcome of a look: (claim holds, claim fails), each (n, M, U, weeks).

    Outcomes that hardly ever come are taken together.
    """
    o, n = c.look.original, c.look.other
    shape = (o.shape[0], *view.holds.shape)
    o, n = np.broadcast_to(o, shape), np.broadcast_to(n, shape)
    if c.claimed:
        holds, fails = view.holds * o, view.fails * (o + n) + view.holds * n
    else:
        holds, fails = view.holds * (o + n), view.fails * (o + n)
    mass = holds.sum(axis=(1, 2, 3)) + fails.sum(axis=(1, 2, 3))
    often = mass >= RARE
    if often.all():
        return holds, fails
    return (
        np.concatenate([holds[often], holds[~often].sum(axis=0, keepdims=True)]),
        np.concatenate([fails[often], fails[~often].sum(axis=0, keepdims=True)]),
    )


# -- candidates ------------------------------------------------------------------------------------


def candidates(around: _Around) -> list[Candidate]:
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
                        f"look at the {feature.title}",
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
    around: _Around,
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


def expected_parts(around: _Around) -> list[Part]:
    """Parts to look at: those recorded, then those the likeliest model left with, then the usual ones."""
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


def _first_open(check: Check, around: _Around, looked: set[tuple[str, str]]) -> Part | None:
    for part in expected_parts(around):
        if part.part_class != check.part_class:
            continue
        if check.kind in CODES and any((part.id, k) in looked for k in CODES):
            continue
        if (part.id, check.kind) not in looked:
            return part
    return None


def _part_named(name: str, around: _Around) -> Part | None:
    parts = expected_parts(around)
    for part in parts:
        if part.id == name:
            return part
    for part in parts:
        if part.id.rpartition("-")[0] == name:
            return part
    usual = around.joint.setting.reference.usual_ids.get(name)
    return Part(name, usual.part_class, usual.assembly) if usual else None


def _prior(part: Part, around: _Around) -> PartPrior:
    """The part's origin as things stand, given model, week and stock age."""
    joint = around.joint
    if part.assembly in joint.marriages:
        b = joint.belongs(part.assembly)
        belongs = b[:, :, around.inside] if b.shape[2] > 1 else b
    else:
        belongs = np.full((1, 1, 1), 1.0 - joint.setting.married(part.assembly))
    holder = next((u for u in joint.units if part.id in u.parts), None)
    if holder is None:
        o, l, p = (np.full((1, 1, 1), x) for x in joint.setting.origin_prior(part.part_class))
    else:
        cut = holder.on(around.inside)
        o, l, p = (x / cut.values for x in cut.origins(part.id))
    return PartPrior(belongs * o, belongs * l, belongs * p, 1.0 - belongs)


def _donor(part: Part, around: _Around) -> Array:
    """p(B') of the amp that a married assembly would come from."""
    if part.assembly not in around.donors:
        known = part.assembly in around.joint.marriages
        around.donors[part.assembly] = (
            around.joint.donor_by_week(part.assembly) if known else around.joint.setting.era
        )
    return around.donors[part.assembly]


def _look(check: Check, part: Part, around: _Around) -> Look | None:
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


def _feature(feature: Feature, part: Part, around: _Around) -> Look:
    setting = around.joint.setting
    seen = []
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


def _quantity(quantity: Quantity, part: Part, around: _Around) -> Look:
    category = around.joint.setting.quantity(quantity.id)
    return quantity_look(
        quantity, category, _prior(part, around), around.weeks, _donor(part, around)
    )


def _one_digit(part: Part, around: _Around) -> bool:
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


def _dated_already(part: Part, around: _Around) -> tuple[Array | None, float]:
    """Quarters of the dates known in this class and assembly, and the chance of sharing one of them."""
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
