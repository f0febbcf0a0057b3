"""What some packs leave to be learned: the parameters, and a reference with other values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ...chronology.time import Grid
from ...marks.tables import Confusion
from ...reference.types import Feature, FeatureValue, Reference, Supply
from .parameters import Scalar, Simplex, Space
from .windows import Edge, Slots, edges_of, shifted, slope, slots_of

Array = NDArray[np.float64]

MAIN = "lags and rates"
LAGS = (
    ("median_weeks", "log"),
    ("sigma", "log"),
    ("old_stock_weight", "logit"),
    ("old_stock_mean_weeks", "log"),
)
SAID = 0.02
"""Edges whose shift by a prior width would not change a share of what was made by as much as this,
in the sum over weeks of production, are not learned."""


@dataclass(frozen=True, slots=True)
class SupplyOf:
    """Suppliers of a class: their rows (places in the reference's), changes and shared times."""

    part_class: str
    rows: tuple[int, ...]
    edges: tuple[Edge, ...]
    slots: tuple[Slots, ...]

    @property
    def names(self) -> list[str]:
        """The parameters: edges, then each set of slots."""
        return [e.name for e in self.edges] + [
            slots_name(self.part_class, i) for i in range(len(self.slots))
        ]


@dataclass(frozen=True, slots=True)
class FeaturesOf:
    """Features that the maker changed together: rows (feature, place among its values), changes."""

    group: str
    rows: tuple[tuple[str, int], ...]
    edges: tuple[Edge, ...]


@dataclass(frozen=True)
class Subjects:
    """Everything that can be learned with one reference."""

    reference: Reference
    assume: Mapping[str, float]
    space: Space
    supplies: tuple[SupplyOf, ...]
    features: tuple[FeaturesOf, ...]

    def applied(self, theta: Array) -> tuple[Reference, dict[str, float]]:
        """The reference and assumptions with these values; edges move by whole weeks, as the model
        knows no less.
        """
        place = self.space.place()
        assume = dict(self.assume)
        for s in self.space.scalars:
            if s.scale != "weeks":
                assume[s.name] = s.value(float(theta[place[s.name]]))
        weeks = {
            s.name: round(float(theta[place[s.name]]))
            for s in self.space.scalars
            if s.scale == "weeks"
        }
        days = {name: 7 * n for name, n in weeks.items()}
        return self.moved(days, self.shares(theta)), assume

    def shares(self, theta: Array) -> dict[str, Array]:
        """The shares of every simplex."""
        parts = zip(self.space.simplices, self.space.slices(), strict=True)
        return {s.name: s.shares(theta[part]) for s, part in parts}

    def moved(self, days: Mapping[str, int], shares: Mapping[str, Array]) -> Reference:
        """The reference with edges moved by days and with these shares."""
        reference = self.reference
        supplies = list(reference.supplies)
        for of in self.supplies:
            moves = [(e, days.get(e.name, 0)) for e in of.edges]
            for i, at in enumerate(of.rows):
                window = shifted(supplies[at].window, i, moves)
                supplies[at] = replace(supplies[at], window=window)
            for i, slots in enumerate(of.slots):
                new = shares.get(slots_name(of.part_class, i))
                if new is not None:
                    for turn, share in zip(slots.rows, new.tolist(), strict=True):
                        for row in turn:
                            old = supplies[of.rows[row]]
                            window = replace(old.window, weight=share)
                            supplies[of.rows[row]] = replace(old, window=window)
        features = dict(reference.features)
        for group in self.features:
            moves = [(e, days.get(e.name, 0)) for e in group.edges]
            if not any(d for _, d in moves):
                continue
            for i, (name, at) in enumerate(group.rows):
                values = list(features[name].values)
                values[at] = replace(values[at], window=shifted(values[at].window, i, moves))
                features[name] = replace(features[name], values=tuple(values))
        digits = dict(reference.tables.digits)
        for legibility, table in reference.tables.digits.items():
            rows = list(table.rows)
            for true in range(len(rows)):
                new = shares.get(digits_name(legibility, true))
                if new is not None:
                    rows[true] = tuple(new.tolist())
            digits[legibility] = Confusion(table.alphabet, tuple(rows))
        tables = replace(reference.tables, digits=digits)
        return replace(reference, supplies=tuple(supplies), features=features, tables=tables)


def subjects_of(reference: Reference, assume: Mapping[str, float], as_of: date) -> Subjects:
    """What can be learned: ``assume`` complete; ``as_of`` bounds the weeks that matter.

    Windows only where one maker's models are in force: a shop's own row can't say which of several
    makers it means (docs/formats/pack.md).
    """
    grid = Grid.until(as_of)
    runs = _production(reference, grid)
    scalars = _numbers(reference, assume)
    one_maker = len({m.maker for m in reference.models}) == 1
    supplies = _supplies(reference, assume, grid, runs) if one_maker else []
    features = _features(reference, assume, grid, runs) if one_maker else []
    width = assume["learn.window.weeks"]
    for of in supplies:
        family = f"supply.{of.part_class}"
        scalars += [Scalar(e.name, "weeks", 0.0, width, family) for e in of.edges]
    for group in features:
        family = f"feature.{group.group}"
        scalars += [Scalar(e.name, "weeks", 0.0, width, family) for e in group.edges]
    simplices = [
        _slots_simplex(of.part_class, i, slots, [reference.supplies[r] for r in of.rows], assume)
        for of in supplies
        for i, slots in enumerate(of.slots)
    ]
    simplices += _digits(reference, assume)
    space = Space(tuple(scalars), tuple(simplices))
    return Subjects(reference, assume, space, tuple(supplies), tuple(features))


def slots_name(part_class: str, i: int) -> str:
    """The name of a set of suppliers that share a class's supply."""
    return f"supply.{part_class}.shares.{i + 1}"


def digits_name(legibility: str, true: int) -> str:
    """The name of what a digit is seen as."""
    return f"digits.{legibility}.{true}"


def _numbers(reference: Reference, assume: Mapping[str, float]) -> list[Scalar]:
    out: list[Scalar] = []
    for part_class in reference.classes:
        if f"lag.{part_class}.median_weeks" in assume and reference.classes[part_class].dated:
            for name, scale in LAGS:
                full, width = f"lag.{part_class}.{name}", assume[f"learn.lag.{name}"]
                out.append(Scalar(full, scale, assume[full], width, MAIN))
    for name in assume:
        if name.startswith("replaced.") and name != "replaced.period_share":
            out.append(
                Scalar(name, "logit", assume[name], assume["learn.replaced.probability"], MAIN)
            )
        if name.startswith("married."):
            out.append(
                Scalar(name, "logit", assume[name], assume["learn.married.probability"], MAIN)
            )
    name = "replaced.period_share"
    out.append(Scalar(name, "logit", assume[name], assume["learn.replaced.period_share"], MAIN))
    return [s for s in out if s.scale != "logit" or 0.0 < s.pack < 1.0]


def _supplies(
    reference: Reference, assume: Mapping[str, float], grid: Grid, runs: Array
) -> list[SupplyOf]:
    out: list[SupplyOf] = []
    for part_class in dict.fromkeys(s.part_class for s in reference.supplies):
        at = tuple(i for i, s in enumerate(reference.supplies) if s.part_class == part_class)
        rows = [reference.supplies[i] for i in at]
        edges = [
            e
            for e in edges_of(f"supply.{part_class}", [r.window for r in rows])
            if _moves_supply(rows, e, reference, grid, runs) * assume["learn.window.weeks"] > SAID
        ]
        out.append(SupplyOf(part_class, at, tuple(edges), tuple(slots_of(rows))))
    return out


def _features(
    reference: Reference, assume: Mapping[str, float], grid: Grid, runs: Array
) -> list[FeaturesOf]:
    groups: dict[str, list[tuple[str, int]]] = {}
    for f in reference.features.values():
        groups.setdefault(f.group or f.id, []).extend((f.id, i) for i in range(len(f.values)))
    out: list[FeaturesOf] = []
    for group, rows in groups.items():
        values = [reference.features[name].values[i] for name, i in rows]
        edges = [
            e
            for e in edges_of(f"feature.{group}", [v.window for v in values])
            if _moves_feature(rows, e, reference, grid, runs) * assume["learn.window.weeks"] > SAID
        ]
        out.append(FeaturesOf(group, tuple(rows), tuple(edges)))
    return out


def _production(reference: Reference, grid: Grid) -> Array:
    """R_m(B), (M, size), each summing to one."""
    rows: list[Array] = []
    for m in reference.models:
        r = np.zeros(grid.size)
        for run in m.runs:
            w = grid.soft_window(run, m.softness_weeks)
            r += run.weight * w / max(w.sum(), 1e-300)
        rows.append(r / max(r.sum(), 1e-300))
    return np.array(rows).reshape(len(rows), grid.size)


def amounts(
    rows: Sequence[Supply] | Sequence[FeatureValue],
    names: Sequence[str],
    softness: Sequence[float],
    model: str | None,
    grid: Grid,
) -> Array:
    """Share times window, summed over the rows of a name open to a model; (names, size)."""
    out = np.zeros((len(set(names)), grid.size))
    order = {n: i for i, n in enumerate(dict.fromkeys(names))}
    for row, name, soft in zip(rows, names, softness, strict=True):
        if not row.models or model in row.models:
            out[order[name]] += row.window.weight * grid.soft_window(row.window, soft)
    return out


def edge_amounts(
    rows: Sequence[Supply] | Sequence[FeatureValue],
    names: Sequence[str],
    softness: Sequence[float],
    edge: Edge,
    model: str | None,
    grid: Grid,
) -> Array:
    """The derivative of :func:`amounts` by a shift of an edge, a week."""
    out = np.zeros((len(set(names)), grid.size))
    order = {n: i for i, n in enumerate(dict.fromkeys(names))}
    for end in edge.ends:
        row = rows[end.row]
        if not row.models or model in row.models:
            move = slope(row.window, softness[end.row], grid, last=end.last)
            out[order[names[end.row]]] += row.window.weight * move
    return out


def _moves_supply(
    rows: Sequence[Supply], edge: Edge, reference: Reference, grid: Grid, runs: Array
) -> float:
    names, soft = [r.number for r in rows], [r.softness_weeks for r in rows]
    return max(
        (
            float(np.abs(edge_amounts(rows, names, soft, edge, m.id, grid) * r).sum())
            for m, r in zip(reference.models, runs, strict=True)
        ),
        default=0.0,
    )


def _moves_feature(
    rows: Sequence[tuple[str, int]], edge: Edge, reference: Reference, grid: Grid, runs: Array
) -> float:
    most = 0.0
    for name in dict.fromkeys(name for name, _ in rows):
        feature: Feature = reference.features[name]
        mine = {at: i for i, (n, at) in enumerate(rows) if n == name}
        back = {row: at for at, row in mine.items()}
        ends = tuple(replace(e, row=back[e.row]) for e in edge.ends if e.row in back)
        if not ends:
            continue
        values, names = feature.values, [v.value for v in feature.values]
        soft = [feature.softness_weeks] * len(values)
        for m, r in zip(reference.models, runs, strict=True):
            c = amounts(values, names, soft, m.id, grid)
            d = edge_amounts(values, names, soft, replace(edge, ends=ends), m.id, grid)
            whole = c.sum(axis=0)
            known = whole >= 1e-200
            safe = np.where(known, whole, 1.0)
            change = np.where(known, d / safe - c / safe * (d.sum(axis=0) / safe), 0.0)
            most = max(most, float(np.abs(change * r).sum()))
    return most


def _slots_simplex(
    part_class: str, i: int, slots: Slots, rows: Sequence[Supply], assume: Mapping[str, float]
) -> Simplex:
    members = tuple("/".join(dict.fromkeys(rows[r].number for r in turn)) for turn in slots.rows)
    return Simplex(
        slots_name(part_class, i),
        members,
        slots.shares,
        assume["learn.supply.records"],
        int(np.argmax(slots.shares)),
        f"supply.{part_class}",
    )


def _digits(reference: Reference, assume: Mapping[str, float]) -> list[Simplex]:
    out: list[Simplex] = []
    for legibility, table in reference.tables.digits.items():
        if legibility == "clear":
            continue
        for true, row in enumerate(table.rows):
            if min(row) > 0.0:
                out.append(
                    Simplex(
                        digits_name(legibility, true),
                        tuple(table.alphabet),
                        tuple(v / sum(row) for v in row),
                        assume["learn.digits.records"],
                        int(np.argmax(row)),
                        digits_name(legibility, true),
                    )
                )
    return out
