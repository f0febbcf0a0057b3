"""Everything one unit's marks can have come from, listed one by one (sections 6-8).

A :class:`Way` is one full story of a unit: the origin of each part and which came together, with its
probability times the likelihood of the marks, shape (13, T) over u and B.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np

from . import lags, marks
from .setting import ORIGINS, Setting, World
from .text import NUMBERS, SOURCE_LENGTHS, Piece


@dataclass(frozen=True)
class Way:
    likelihood: np.ndarray
    origin: dict[str, str]
    deliveries: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Unit:
    parts: tuple[str, ...]
    ways: list[Way]


# --- deliveries -----------------------------------------------------------------------------------


class Sources:
    """Source numbers put together where no text tells them apart: each listed one, else by length."""

    def __init__(self, s: Setting, part_class: str, pieces: list[Piece]) -> None:
        self.original = s.sources_original(part_class)
        self.replaced = s.sources_replaced(part_class)
        self.named = sorted({*self.original, *self.replaced})
        self.unlisted_original = s.unlisted(self.original)
        self.unlisted_replaced = s.unlisted(self.replaced)
        self.kinds: dict[Any, tuple[int, int]] = {}  # signature -> (an example's index, how many)
        factors = np.array([p.source for p in pieces]).T
        for i, number in enumerate(NUMBERS):
            name = number if number in self.named else len(number)
            key = (name, factors[i].tobytes())
            example, count = self.kinds.get(key, (i, 0))
            self.kinds[key] = (example, count + 1)
        self.examples = np.array([example for example, _ in self.kinds.values()])

    def sum_over(self, by_kind: np.ndarray) -> dict[Any, np.ndarray]:
        """Sum a (kinds, T) table within each listed number and each length of unlisted ones."""
        out: dict[Any, np.ndarray] = {}
        for (key, (_, count)), row in zip(self.kinds.items(), by_kind, strict=True):
            out[key[0]] = out.get(key[0], 0.0) + count * row
        return out

    def p_original(self, name: Any) -> np.ndarray:
        """P of this number (or of one unlisted number of this length) over B."""
        if name in SOURCE_LENGTHS:
            return self.unlisted_original[name]
        return self.original.get(name, self.unlisted_original[len(str(name))])

    def p_replaced(self, name: Any) -> np.ndarray:
        if name in SOURCE_LENGTHS:
            return self.unlisted_replaced[name]
        return self.replaced.get(name, self.unlisted_replaced[len(str(name))])


class DatedGroup:
    """The dated parts of one class in one assembly."""

    def __init__(self, s: Setting, part_class: str, parts: list[str]) -> None:
        self.s, self.part_class, self.parts = s, part_class, parts
        self.pieces = {p: marks.pieces_of_part(s, p) for p in parts}
        self.sources = Sources(s, part_class, [piece for p in parts for piece in self.pieces[p]])
        ex = self.sources.examples
        self.t = {p: sum(np.outer(q.source[ex], q.week) for q in self.pieces[p]) for p in parts}
        p_of_e = marks.spread(s.numbers)
        self.h = {
            p: sum(np.outer(q.source[ex], marks.shipped(q.week, p_of_e)) for q in self.pieces[p])
            for p in parts
        }
        self.x = {p: marks.other_marks(s, p) for p in parts}
        blocks = [b for n in range(1, len(parts) + 1) for b in itertools.combinations(parts, n)]
        together = {
            b: self.sources.sum_over(np.prod([self.h[p] for p in b], axis=0)) for b in blocks
        }
        self.f = self._original(together)
        self.g = {b: self._later(together[b]) for b in blocks}
        self.p = {p: self._period(self.sources.sum_over(self.t[p])) for p in parts}

    def lag_class(self) -> str:
        return self.part_class if self.s.world["classes"][self.part_class]["dated"] else "other"

    def _original(self, together: dict[Any, dict[Any, np.ndarray]]) -> dict[Any, np.ndarray]:
        """f_b(B, u), shape (13, T) a block."""
        out = {b: np.zeros((13, self.s.total)) for b in together}
        for k, u in enumerate(self.s.u):
            lag = self.s.lag(self.lag_class(), float(u))
            for b, by_source in together.items():
                for name, row in by_source.items():
                    days = np.flatnonzero(row)
                    out[b][k] += self.sources.p_original(name) * (lag[:, days] @ row[days])
        return out

    def replaced_by_week(self, by_source: dict[Any, np.ndarray]) -> np.ndarray:
        """sum_sigma P(sigma | replaced) H(sigma, D) over D."""
        return sum(self.sources.p_replaced(name) * row for name, row in by_source.items())  # type: ignore[return-value]

    def serviced(self, by_source: dict[Any, np.ndarray]) -> np.ndarray:
        """sum_D s(R - D) sum_sigma P(sigma | replaced) H(sigma, D) over R."""
        return self.s.service() @ self.replaced_by_week(by_source)

    def _later(self, by_source: dict[Any, np.ndarray]) -> np.ndarray:
        """g_b(B): R is uniform on the weeks after B (the last week if there is none)."""
        v = self.serviced(by_source)
        last = self.s.total - 1
        return np.array([v[b + 1 :].mean() if b < last else v[last] for b in range(self.s.total)])

    def _period(self, by_source: dict[Any, np.ndarray]) -> np.ndarray:
        row = self.replaced_by_week(by_source)
        half = int(self.s.numbers["period.half_width_weeks"])
        return np.array([row[max(0, b - half) : b + half + 1].mean() for b in range(self.s.total)])

    def ways(self) -> list[Way]:
        alpha = self.s.numbers["delivery.concentration"]
        prior = self.s.p_origin(self.part_class)
        out = []
        for choice in itertools.product(ORIGINS, repeat=len(self.parts)):
            origin = dict(zip(self.parts, choice, strict=True))
            base = np.ones((13, self.s.total))
            for p in self.parts:
                base = base * prior[origin[p]] * self.x[p][origin[p]]
                if origin[p] == "period":
                    base = base * self.p[p]
            own = [p for p in self.parts if origin[p] == "original"]
            later = [p for p in self.parts if origin[p] == "later"]
            for first in lags.partitions(own):
                for second in lags.partitions(later):
                    value = base * lags.ewens([len(b) for b in first], alpha)
                    value = value * lags.ewens([len(b) for b in second], alpha)
                    for b in first:
                        value = value * self.f[self._key(b)]
                    for b in second:
                        value = value * self.g[self._key(b)]
                    out.append(Way(value, origin, tuple(tuple(b) for b in [*first, *second])))
        return out

    def _key(self, block: list[str]) -> tuple[str, ...]:
        return tuple(p for p in self.parts if p in block)


# --- parts without dates --------------------------------------------------------------------------


def component_ways(s: Setting, parts: list[str]) -> list[Way]:
    """Undated parts that share groups of features: all origins together."""
    grouped = [
        m
        for m in s.world["marks"]
        if m["part"] in parts
        and m["kind"] == "feature"
        and m["result"] in ("seen", "absent")
        and s.world["features"][m["feature"]]["group"]
    ]
    numbers = tuple(m["n"] for m in grouped)
    x = {p: marks.other_marks(s, p, but=numbers) for p in parts}
    out = []
    for choice in itertools.product(ORIGINS, repeat=len(parts)):
        origin = dict(zip(parts, choice, strict=True))
        value = np.ones((13, s.total))
        for p in parts:
            value = value * s.p_origin(marks.class_of(s.world, p))[origin[p]] * x[p][origin[p]]
        names = sorted({s.world["features"][m["feature"]]["group"] for m in grouped})
        for name in names:
            own = [
                m
                for m in grouped
                if s.world["features"][m["feature"]]["group"] == name
                and origin[m["part"]] == "original"
            ]
            if own:
                value = value * marks.group_factor(s, own)
        for m in grouped:
            if origin[m["part"]] != "original":
                value = value * marks.feature_factor(s, m)[origin[m["part"]]]
        out.append(Way(value, origin))
    return out


def components(world: World, parts: list[str]) -> list[list[str]]:
    """Undated parts of one assembly, put together where they share a group of features."""
    groups: dict[str, set[str]] = {p: set() for p in parts}
    for m in world["marks"]:
        if m["part"] in groups and m["kind"] == "feature" and m["result"] in ("seen", "absent"):
            group = world["features"][m["feature"]]["group"]
            if group:
                groups[m["part"]].add(group)
    out: list[list[str]] = []
    for p in parts:
        touching = [c for c in out if any(groups[p] & groups[q] for q in c)]
        out = [c for c in out if c not in touching] + [[q for c in touching for q in c] + [p]]
    return out


# --- known repairs --------------------------------------------------------------------------------


def repaired_ways(s: Setting, part: str, repair: dict[str, Any]) -> list[Way]:
    """A part known to have been replaced in r0..r1: mostly that, else as any other part."""
    part_class = marks.class_of(s.world, part)
    last = s.total - 1
    if marks.is_dated(s.world, part):
        group = DatedGroup(s, part_class, [part])
        ordinary = group.ways()
        fitted = group.serviced(group.sources.sum_over(group.h[part]))
    else:
        ordinary = component_ways(s, [part])
        fitted = np.ones(s.total)
    weeks = [
        w for w in range(-3000, s.total) if marks.time.holds(w, repair["first"], repair["last"])
    ]
    weeks = sorted({min(max(w, 0), last) for w in weeks}) or [last]
    x = marks.other_marks(s, part)["later"]
    leak = s.numbers["repair.leak"]
    known = np.array([sum(fitted[r] for r in weeks if r > b) / len(weeks) for b in range(s.total)])
    out = [Way(leak * w.likelihood, w.origin, w.deliveries) for w in ordinary]
    out.append(Way((1 - leak) * np.tile(known * x, (13, 1)), {part: "later"}, ((part,),)))
    return out


def units_of(s: Setting, assembly: str) -> list[Unit]:
    world = s.world
    parts = [p["id"] for p in world["parts"] if p["assembly"] == assembly]
    repairs = {r["part"]: r for r in world["repairs"] if r["replaced"]}
    out = [Unit((p,), repaired_ways(s, p, repairs[p])) for p in parts if p in repairs]
    rest = [p for p in parts if p not in repairs]
    dated = [p for p in rest if marks.is_dated(world, p)]
    for part_class in sorted({marks.class_of(world, p) for p in dated}):
        own = [p for p in dated if marks.class_of(world, p) == part_class]
        out.append(Unit(tuple(own), DatedGroup(s, part_class, own).ways()))
    for together in components(world, [p for p in rest if p not in dated]):
        out.append(Unit(tuple(together), component_ways(s, together)))
    return out
