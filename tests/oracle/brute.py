"""The answers: every probability is a sum of J over what an event allows, over the sum of J (9, 10)."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from . import marks, time
from .setting import Setting, World, rivals
from .units import Unit, Way, units_of


@dataclass(frozen=True)
class Event:
    """What must hold: the model, the weeks, assemblies that belong, and the story of each unit."""

    models: frozenset[str] | None = None
    weeks: np.ndarray | None = None
    belong: frozenset[str] = frozenset()
    married: frozenset[str] = frozenset()
    about: frozenset[str] = frozenset()  # the parts that ``way`` looks at
    way: Callable[[Way], bool] = lambda way: True


@dataclass
class Rival:
    p: float
    setting: Setting
    units: dict[str, list[Unit]]
    amp: np.ndarray  # documents and unexpected parts, (T,)
    whole: dict[tuple[str, int], np.ndarray] = field(default_factory=dict)

    def product(self, assembly: str, event: Event) -> np.ndarray:
        """Lambda_a(m, B, u) with the stories that the event allows, (13, T)."""
        out = np.ones((13, self.setting.total))
        for i, unit in enumerate(self.units.get(assembly, [])):
            if event.about & set(unit.parts):
                likelihood = sum(
                    (w.likelihood for w in unit.ways if event.way(w)), np.zeros_like(out)
                )
            else:
                if (assembly, i) not in self.whole:
                    self.whole[assembly, i] = sum(
                        (w.likelihood for w in unit.ways), np.zeros_like(out)
                    )
                likelihood = self.whole[assembly, i]
            out = out * likelihood
        return out


class Brute:
    """All answers about one world."""

    def __init__(self, world: World) -> None:
        self.not_weighed = len(world["marks"])
        self.world = world = marks.weighed(world)
        self.not_weighed -= len(world["marks"])
        self.total = time.week_of(world["as_of"]) + 1
        self.assemblies = sorted({p["assembly"] for p in world["parts"]} - {"chassis"})
        self.rivals: list[Rival] = []
        expecting = [m for _, m in rivals(world) if m is not None and m["expected"]]
        for p, model in rivals(world):
            s = Setting(world, model)
            units = {a: units_of(s, a) for a in ["chassis", *self.assemblies]}
            amp = np.ones(self.total)
            for m in world["marks"]:
                if m["kind"] == "document" and m["result"] == "seen":
                    amp = amp * marks.document_factor(s, m)
            if model is not None and model["expected"]:
                for c in marks.classes_there(world):
                    named = any(c in other["expected"] for other in expecting)
                    if named and c not in model["expected"]:
                        amp = amp * s.numbers["part.unexpected"]
            self.rivals.append(Rival(p, s, units, amp))
        self.j = self.sum_j(Event())
        self.evidence = float(self.j.sum())

    def sum_j(self, event: Event) -> np.ndarray:
        """Sum of J over u, models and marriages that the event allows, (T,) over B."""
        out = np.zeros(self.total)
        for r in self.rivals:
            s = r.setting
            if event.models is not None and (s.model is None or s.model["id"] not in event.models):
                continue
            chassis = r.product("chassis", event)
            own = {a: r.product(a, event) for a in self.assemblies}
            donor = {
                a: float((s.u_weight[:, None] * s.donor * own[a]).sum()) for a in self.assemblies
            }
            for married in itertools.product((False, True), repeat=len(self.assemblies)):
                state = dict(zip(self.assemblies, married, strict=True))
                if any(state[a] for a in event.belong if a != "chassis"):
                    continue
                if any(not state[a] for a in event.married):
                    continue
                joint = r.p * s.prior * r.amp * s.u_weight[:, None] * chassis
                for a in self.assemblies:
                    mu = s.p_married(a)
                    joint = joint * (mu * donor[a] if state[a] else (1 - mu) * own[a])
                out += joint.sum(axis=0)
        return out * (1.0 if event.weeks is None else event.weeks)

    def p(self, event: Event) -> float:
        return float(self.sum_j(event).sum()) / self.evidence

    # --- answers ----------------------------------------------------------------------------------

    def weeks(self) -> np.ndarray:
        return self.j / self.evidence

    def log_evidence(self) -> float:
        return math.log(self.evidence)

    def models(self) -> dict[str, float]:
        return {
            r.setting.model["id"]: self.p(Event(models=frozenset({r.setting.model["id"]})))
            for r in self.rivals
            if r.setting.model is not None
        }

    def married(self, assembly: str) -> float:
        return self.p(Event(married=frozenset({assembly})))

    def donor_weeks(self, assembly: str) -> np.ndarray:
        """When the other amp was built, given that this assembly is another's."""
        out = np.zeros(self.total)
        for r in self.rivals:
            s = r.setting
            if s.model is None:
                weight = float(self.sum_j(Event(married=frozenset({assembly}))).sum())
            else:
                only = Event(models=frozenset({s.model["id"]}), married=frozenset({assembly}))
                weight = float(self.sum_j(only).sum())
            own = (s.u_weight[:, None] * s.donor * r.product(assembly, Event())).sum(axis=0)
            out += weight * own / own.sum() if own.sum() > 0 else 0.0
        return out / out.sum() if out.sum() > 0 else out

    def original(self, part: str) -> float:
        return self.p(self._original({part}))

    def _original(self, parts: set[str], **more: Any) -> Event:
        return Event(
            belong=frozenset(marks.assembly_of(self.world, p) for p in parts),
            about=frozenset(parts),
            way=lambda w: all(w.origin.get(p, "original") == "original" for p in parts),
            **more,
        )

    def origin(self, part: str, what: str, in_this_amp: bool = False) -> float:
        belong = frozenset({marks.assembly_of(self.world, part)}) if in_this_amp else frozenset()
        return self.p(
            Event(
                about=frozenset({part}),
                belong=belong,
                way=lambda w: w.origin.get(part, what) == what,
            )
        )

    def together(self, parts: set[str]) -> float:
        """P(all of them came in one delivery)."""

        def one(w: Way) -> bool:
            if not parts & set(w.origin):
                return True
            return any(parts <= set(b) for b in w.deliveries)

        return self.p(Event(about=frozenset(parts), way=one))

    def deliveries(self) -> list[tuple[tuple[str, ...], float, float]]:
        """(parts, together, all original) of parts chained by P(same delivery) > 0.5."""
        out = []
        for units in self.rivals[0].units.values():
            for unit in units:
                pairs = [
                    {a, b}
                    for a, b in itertools.combinations(unit.parts, 2)
                    if any(w.deliveries for w in unit.ways) and self.together({a, b}) > 0.5
                ]
                groups: list[set[str]] = []
                for pair in pairs:
                    touching = [g for g in groups if g & pair]
                    groups = [g for g in groups if g not in touching] + [pair.union(*touching)]
                for g in groups:
                    parts = tuple(p for p in unit.parts if p in g)
                    out.append((parts, self.together(g), self.p(self._original(g))))
        return out

    def claim(self) -> tuple[float | None, dict[str, float | None]]:
        """(joint, clause -> p)."""
        claim = self.world["claim"]
        clauses: dict[str, float | None] = {}
        joint: dict[str, Any] = {}
        if claim is None:
            return None, clauses
        if claim["built"] is not None:
            weeks = time.weeks_of_interval(self.total, claim["built_from"], claim["built_to"])
            clauses[f"built {claim['built']}"] = self.p(Event(weeks=weeks))
            joint["weeks"] = weeks
        if claim["model"] is not None:
            if claim["model"] in self.models():
                only = frozenset({claim["model"]})
                clauses[f"model {claim['model']}"] = self.p(Event(models=only))
                joint["models"] = only
            else:
                clauses[f"model {claim['model']}"] = None
        parts = self.claimed_parts()
        for part in parts:
            clauses[f"{part} original"] = self.original(part)
        judged = [p for p in clauses.values() if p is not None]
        return (self.p(self._original(set(parts), **joint)) if judged else None), clauses

    def claimed_parts(self) -> list[str]:
        claim = self.world["claim"]

        def named(part: dict[str, str], names: tuple[str, ...]) -> bool:
            return bool(
                {part["id"], part["class"], part["class"] + "s", part["assembly"]} & set(names)
            )

        return [
            p["id"]
            for p in self.world["parts"]
            if p["class"] != "chassis"
            and ("everything" in claim["original"] or named(p, claim["original"]))
            and not named(p, claim["except"])
        ]

    def influence(self, n: int) -> float:
        """KL(p(B) with mark n || p(B) without), bits."""
        rest = {**self.world, "marks": [m for m in self.world["marks"] if m["n"] != n]}
        p, q = self.weeks(), Brute(rest).weeks()
        held = p > 0
        return float((p[held] * np.log2(p[held] / q[held])).sum())

    def conflict(self, n: int) -> float | None:
        """How surprising mark n is, given all others; None for kinds not worked out here.

        A feature: mid-p among its values. Conditions, measured values, serials, documents and
        terms on undated parts: the expectation of the likelihood over its maximum.
        """
        mark = next(m for m in self.world["marks"] if m["n"] == n)
        others = [m for m in self.world["marks"] if m["n"] != n]
        there = marks.classes_there(self.world)  # the part itself stays recorded
        without = Brute({**self.world, "marks": others, "there": there}).evidence
        if mark["kind"] == "feature" and mark["result"] in ("seen", "absent"):
            feature = self.world["features"][mark["feature"]]
            listed = [*dict.fromkeys([*(r["value"] for r in feature["values"]), "absent"])]
            p = {}
            for value in dict.fromkeys([*listed, marks.feature_value(mark)]):
                other = {**mark, "result": "seen", "value": value}
                world = {
                    **self.world,
                    "marks": [m if m["n"] != n else other for m in self.world["marks"]],
                }
                p[value] = Brute(world).evidence / without
            p = {v: x / sum(p.values()) for v, x in p.items()}
            seen = p[marks.feature_value(mark)]
            same = [v for v in p if abs(p[v] - seen) <= 1e-6 * seen]
            return (
                sum(p[v] for v in p if v not in same and p[v] < seen) + sum(p[v] for v in same) / 2
            )
        if mark["result"] != "seen" or marks.dates_its_part(self.world, mark):
            return None
        if mark["kind"] not in ("condition", "measured", "serial", "document", *marks.LABELS):
            return None
        most = 0.0
        for r in self.rivals:
            if mark["kind"] == "document":
                most = max(most, float(marks.document_factor(r.setting, mark).max()))
            else:
                most = max(
                    most, *(float(x.max()) for x in marks.one_factor(r.setting, mark).values())
                )
        return self.evidence / without / most


# --- sets -----------------------------------------------------------------------------------------


def highest_density(p: np.ndarray, mass: float) -> list[tuple[int, int, float]]:
    """(first week, last week, mass) of each run of the smallest set of weeks that holds ``mass``."""
    order = sorted(range(len(p)), key=lambda w: (-float(f"{p[w]:.11e}"), w))
    chosen: list[int] = []
    held = 0.0
    for w in order:
        if held >= mass - 1e-12:
            break
        chosen.append(w)
        held += float(p[w])
    runs: list[tuple[int, int, float]] = []
    for w in sorted(chosen):
        if runs and runs[-1][1] == w - 1:
            runs[-1] = (runs[-1][0], w, runs[-1][2] + float(p[w]))
        else:
            runs.append((w, w, float(p[w])))
    return runs


def edtf(runs: list[tuple[int, int, float]]) -> str:
    """The months of the runs as one of a set; months that follow each other are merged."""
    months: list[list[int]] = []
    for first, last, _ in runs:
        (y0, m0), (y1, m1) = time.month_of(first), time.month_of(last)
        a, b = 12 * y0 + m0 - 1, 12 * y1 + m1 - 1
        if months and a <= months[-1][1] + 1:
            months[-1][1] = max(months[-1][1], b)
        else:
            months.append([a, b])

    def say(m: int) -> str:
        return f"{m // 12}-{m % 12 + 1:02d}"

    said = ",".join(say(a) if a == b else f"{say(a)}..{say(b)}" for a, b in months)
    return (
        f"[{said}]" if len(months) > 1 or months[0][0] != months[0][1] else said
    )  # one month is no set
