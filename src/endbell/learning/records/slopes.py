"""How probabilities move with what is learned: derivatives of lags, suppliers, features.

Worked out once for a setting of the engine (grid, rivals, production), used for every dossier.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp

import numpy as np
from numpy.typing import NDArray

from ...chronology.expected import EARLY, REST
from ...chronology.lags import Lag
from ...chronology.setting import Setting
from ...reference.types import Supply
from .subjects import FeaturesOf, Subjects, SupplyOf, amounts, edge_amounts, slots_name
from .windows import End

Array = NDArray[np.float64]
FAR = 40.0  # standard widths of an edge beyond which it says nothing


def lag_slopes(lag: Lag, whole: Array, stock_age: Array) -> Array:
    """d ln P(L = n | u) by ln median, ln sigma, log odds of old stock, ln of its mean, and then
    - P''/P by the same four; (8, U, n).  ``whole``: the table of P, from n = -EARLY on.
    """
    n = np.arange(whole.shape[1] - EARLY, dtype=np.float64)
    body = 1.0 - lag.old_weight - lag.early
    z = (np.log(n + 1.0) - np.log(lag.median) - stock_age[:, None]) / lag.sigma
    density = np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi)
    out = np.zeros((8, *whole.shape))
    # of P(floor(X) <= n) = Phi(z), z falls with ln median by 1/sigma, with ln sigma by itself
    cumulated = (
        (0, -density / lag.sigma),
        (1, -density * z),
        (4, density * z / lag.sigma**2),
        (5, -density * z * (1.0 - z * z)),
    )
    for k, c in cumulated:
        out[k, :, EARLY:] = body * np.diff(c, axis=1, prepend=0.0)
    r, a = exp(-1.0 / lag.old_mean), 1.0 / lag.old_mean
    old = (1.0 - r) * r**n
    log_normal = (whole[:, EARLY:] - lag.old_weight * old) / body
    odds = lag.old_weight * (1.0 - lag.old_weight)
    out[2, :, EARLY:] = odds * (old - log_normal)
    out[6] = -(1.0 - 2.0 * lag.old_weight) * out[2]
    slope = a * (n - r / (1.0 - r))  # d ln E(n) by ln mean: ln r = -a rises by a
    curve = -slope - a * a * r / (1.0 - r) ** 2
    out[3, :, EARLY:] = lag.old_weight * old * slope
    out[7, :, EARLY:] = -lag.old_weight * old * (slope**2 + curve)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(whole > 1e-300, out / whole, 0.0)


@dataclass(frozen=True, eq=False)
class SupplySlopes:
    """By source number, (M, parameters, size) for originals, (parameters,) for repairers."""

    columns: tuple[int, ...]
    original: dict[str, Array]
    later: dict[str, Array]


def supply_slopes(of: SupplyOf, subjects: Subjects, setting: Setting) -> SupplySlopes:
    """d ln P(source | original, m, B) and d ln P(source | replaced) by a class's parameters."""
    rows = [setting.reference.supplies[i] for i in of.rows]
    names, soft = [r.number for r in rows], [r.softness_weeks for r in rows]
    order = list(dict.fromkeys(names))
    grid, assume = setting.grid, setting.assume
    place, columns = subjects.space.place(), list[int]()
    simplices = {s.name: s for s in subjects.space.simplices}
    share_moves: list[list[float]] = []  # by parameter: d share of every row
    for e in of.edges:
        columns.append(place[e.name])
    for i, slots in enumerate(of.slots):
        simplex = simplices[slots_name(of.part_class, i)]
        q = [rows[turn[0]].window.weight for turn in slots.rows]
        free = [k for k in range(len(q)) if k != simplex.base]
        for column, k in enumerate(free):
            columns.append(place[simplex.name] + column)
            moves = [0.0] * len(rows)
            for j, turn in enumerate(slots.rows):
                for row in turn:
                    moves[row] = q[j] * ((j == k) - q[k])
            share_moves.append(moves)
    leak = assume["source.unlisted"]
    original = {n: np.zeros((len(setting.names), len(columns), grid.size)) for n in (*order, REST)}
    for m, model in enumerate(setting.names):
        a = amounts(rows, names, soft, model, grid)
        moves = [edge_amounts(rows, names, soft, e, model, grid) for e in of.edges]
        for shares in share_moves:
            scaled = [
                replace(r, window=replace(r.window, weight=d))
                for r, d in zip(rows, shares, strict=True)
            ]
            moves.append(amounts(scaled, names, soft, model, grid))
        d = np.array(moves).reshape(len(columns), len(order), grid.size)
        whole = a.sum(axis=0)
        over = np.maximum(whole, 1.0)
        crowded = np.where(whole > 1.0, d.sum(axis=1) / over, 0.0)
        p = (1.0 - leak) * a / over
        dp = (1.0 - leak) * (d / over - (a / over)[None] * crowded[:, None])
        for s, number in enumerate(order):
            original[number][m] = _ratio(dp[:, s], p[s][None])
        rest = 1.0 - p.sum(axis=0)
        original[REST][m] = _ratio(-dp.sum(axis=1), rest[None])
    return SupplySlopes(tuple(columns), original, _later(rows, order, share_moves, len(of.edges)))


def _later(
    rows: list[Supply], order: list[str], share_moves: list[list[float]], edges: int
) -> dict[str, Array]:
    """A repairer buys by shares, whatever the year."""
    mix = np.array([sum(r.window.weight for r in rows if r.number == n) for n in order])
    out = {n: np.zeros(edges + len(share_moves)) for n in (*order, REST)}
    for k, moves in enumerate(share_moves):
        d = np.array(
            [sum(v for v, r in zip(moves, rows, strict=True) if r.number == n) for n in order]
        )
        slope = _ratio(d, mix) - d.sum() / mix.sum()
        for n, v in zip(order, slope.tolist(), strict=True):
            out[n][edges + k] = v
    return out


@dataclass(frozen=True, eq=False)
class FeatureSlopes:
    """Features that change together.  ``p``: by feature, P(v | original), (n, M, size).

    ``moves``: by feature a list, one for each edge: first week and d P, (n, M, weeks), None where
    it is another feature's.
    """

    columns: tuple[int, ...]
    values: dict[str, tuple[str, ...]]
    p: dict[str, Array]
    moves: dict[str, list[tuple[int, Array] | None]]
    leak: float


def feature_slopes(of: FeaturesOf, subjects: Subjects, setting: Setting) -> FeatureSlopes:
    """Derivatives of P(v | original, m, B) by the edges of a group."""
    place = subjects.space.place()
    leak = setting.assume["feature.leak"]
    out = FeatureSlopes(tuple(place[e.name] for e in of.edges), {}, {}, {}, leak)
    for name in dict.fromkeys(name for name, _ in of.rows):
        category = setting.feature(name)
        feature = setting.reference.features[name]
        out.values[name], out.p[name] = category.values, category.original
        own = {i: at for i, (n, at) in enumerate(of.rows) if n == name}
        names = [v.value for v in feature.values]
        soft = [feature.softness_weeks] * len(names)
        order = list(dict.fromkeys(names))
        seen_as = [category.values.index(v) for v in order]
        moves: list[tuple[int, Array] | None] = []
        for e in of.edges:
            ends = tuple(End(own[x.row], x.last) for x in e.ends if x.row in own)
            if not ends:
                moves.append(None)
                continue
            edge = replace(e, ends=ends)
            dp = np.zeros(category.original.shape)
            for m, model in enumerate(setting.names):
                c = amounts(feature.values, names, soft, model, setting.grid)
                d = edge_amounts(feature.values, names, soft, edge, model, setting.grid)
                whole = c.sum(axis=0)
                known = whole >= 1e-200
                safe = np.where(known, whole, 1.0)
                change = np.where(known, d / safe - c / safe * (d.sum(axis=0) / safe), 0.0)
                dp[seen_as, m] = (1.0 - leak) * change
            at = np.flatnonzero(np.abs(dp).max(axis=(0, 1)) > 1e-15)
            lo, hi = (int(at[0]), int(at[-1]) + 1) if at.size else (0, 0)
            moves.append((lo, dp[:, :, lo:hi].copy()))
        out.moves[name] = moves
    return out


def replaced_slopes(name: str, by: FeatureSlopes, setting: Setting) -> Array:
    """d ln P(v | replaced, m) by the edges of a group, (edges, n, M)."""
    category = setting.feature(name)
    runs = setting.runs / setting.runs.sum(axis=1, keepdims=True)
    replaced = (1.0 - category.cost) * category.match + category.cost / len(category.values)
    out = np.zeros((len(by.columns), *replaced.shape))
    for k, move in enumerate(by.moves[name]):
        if move is not None:
            first, dp = move
            match = (dp * runs[:, first : first + dp.shape[2]]).sum(axis=2)
            out[k] = (1.0 - category.cost) * match / replaced
    return out


def _ratio(a: Array, b: Array) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(b > 0, a / b, 0.0)
