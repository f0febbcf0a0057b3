"""Amps with faults, drawn dice by dice from the tables of the causes; no code of the posterior.

Every present fault throws for each of its symptoms, chance throws for each symptom, and every
reading throws for its own error.  ``Twist`` makes a world unlike the tables.
"""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

TABLES = Path(__file__).resolve().parents[1] / "src/endbell/bench/data/causes"


@dataclass(frozen=True)
class Twist:
    """How far a world is from the tables; each figure is moved up or down by a fair coin.

    ``strength``: on the scale of log odds; ``prior``, ``leak``, ``error``: factors of odds.
    ``together``: share of the readings' errors that fall on a line and on all that is worked out
    from it at once.
    """

    strength: float = 0.0
    prior: float = 1.0
    leak: float = 1.0
    error: float = 1.0
    together: float = 0.0


@dataclass(frozen=True)
class Case:
    """An amp: the faults it has, and of every symptom whether a reading would find it."""

    faults: frozenset[str]
    found: Mapping[str, bool]


def rows(table: str) -> list[dict[str, str]]:
    """The rows of a table of the causes, as text."""
    with (TABLES / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


class World:
    """A world that amps are drawn from; ``seed`` also fixes how it is twisted."""

    def __init__(self, twist: Twist, seed: int) -> None:
        self.dice = random.Random(seed)
        self.twist = twist
        self.strength: dict[str, dict[str, float]] = {}
        symptoms = rows("symptoms")
        for link in rows("links"):
            own = self.strength.setdefault(link["fault"], {})
            named = [s["id"] for s in symptoms] if link["symptom"] == "*" else [link["symptom"]]
            for symptom in named:
                own[symptom] = self._log_odds(float(link["strength"]), twist.strength)
        self.leak = {s["id"]: self._factor(float(s["leak"]), twist.leak) for s in symptoms}
        self.reading: dict[str, tuple[str, float, float]] = {}
        for row in rows("measurements"):
            key = f"{row['line'].split(';')[0]}@{row['scope']}".rstrip("@")
            errors = [self._factor(float(row[c]), twist.error) for c in ("false_alarm", "miss")]
            brought = [b for b in row["brings"].split(";") if b]
            for s in symptoms:
                name = f"{s['line'].split(';')[0]}@{s['scope']}".rstrip("@")
                if name == key or (name in brought and s["id"] not in self.reading):
                    self.reading[s["id"]] = (key, *errors)
        self._factors: dict[str, float] = {}

    def _coin(self) -> int:
        return self.dice.choice((-1, 1))

    def _factor(self, p: float, factor: float) -> float:
        return self._log_odds(p, math.log(factor))

    def _log_odds(self, p: float, by: float) -> float:
        if by == 0.0:
            return p
        return 1 / (1 + (1 - p) / p * math.exp(-by * self._coin()))

    def prior(self, fault: str, stated: float) -> float:
        """The prior of this world for a fault of a stated one."""
        if fault not in self._factors:
            self._factors[fault] = self.twist.prior ** self._coin()
        odds = stated / (1 - stated) * self._factors[fault]
        return odds / (1 + odds)

    def case(self, priors: Mapping[str, float]) -> Case:
        """An amp with at most two of the faults of ``priors``; others are sent away."""
        while True:
            faults = frozenset(f for f, p in priors.items() if self._falls(self.prior(f, p)))
            if len(faults) <= 2:
                break
        slips = {key: self._falls(self.twist.together) for key, _, _ in self.reading.values()}
        thrown: dict[str, float] = {}
        found: dict[str, bool] = {}
        for symptom, (key, false_alarm, miss) in self.reading.items():
            there = self._falls(self.leak[symptom])
            for fault in faults:
                there |= self._falls(self.strength[fault].get(symptom, 0.0))
            throw = self.dice.random()
            if slips[key]:
                throw = thrown.setdefault(key, throw)
            wrong = throw < (miss if there else false_alarm)
            found[symptom] = there != wrong
        return Case(faults, found)

    def _falls(self, p: float) -> bool:
        return self.dice.random() < p
