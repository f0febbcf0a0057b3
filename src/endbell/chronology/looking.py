"""Expected information of a look: what its outcome tells of year, claim and origin.

docs/model.md, section 10, item 7.  Situations are rows: the joint as it stands, or after each
outcome of
a first look.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..dossier.types import Dossier
from .claim import claim_models, claim_weeks, claimed_parts
from .joint import Joint
from .outcomes import Look
from .time import Array, IntArray, on_weeks

ENOUGH = 1e-7  # weeks of less weight are left out of expected information
MOST_WEEKS = 400  # beyond these, neighbouring weeks are taken together
RARE = 0.004  # outcomes of a first look less likely than this are taken together


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
class View:
    """The joint on the weeks that matter, split by whether the claim holds. Axes (M, U, active)."""

    weeks: IntArray
    holds: Array
    fails: Array
    years: IntArray  # start index of every year among the weeks


def view_of(joint: Joint, dossier: Dossier) -> tuple[View, IntArray]:
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
        holds = weight * on_weeks(given, at)
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
    view = View(weeks, holds, weight - holds, np.flatnonzero(np.diff(years, prepend=-1)))
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


def outcome_tables(view: View, holds: Array, fails: Array, c: Candidate) -> Array:
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


def information(view: View, holds: Array, fails: Array, c: Candidate) -> Array:
    """Mutual information, in bits, of the outcome with (year of B, the claim holds, origin);
    (n1,).
    """
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


def settles(view: View, c: Candidate) -> str:
    """What the look is about: whichever it tells most of, taken alone."""
    p = outcome_tables(view, view.holds[None], view.fails[None], c)
    year = float(_bits(p.sum(axis=2))[0])
    if c.claimed:
        by_origin = np.stack([p[:, :, 0] + p[:, :, 1], p[:, :, 2]], axis=1).sum(axis=2)
        if float(_bits(by_origin)[0]) > year:
            return f"origin of {c.part}"
    return "year of build"


def after(view: View, c: Candidate) -> tuple[Array, Array]:
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
