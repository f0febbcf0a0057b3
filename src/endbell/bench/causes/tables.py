"""Faults, symptoms, links and measurements as rows of ``data/causes/*.csv``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from ..facts import fact, facts
from ..lines import Judgement
from .network import Network

UNLISTED = "unlisted"
"""The fault that stands for everything the list does not hold."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault. ``parts``: the use of the capacitor, or the transformer, it sits in; ``needs``: what
    a circuit must have for it; ``prior``: in an amp on the bench whose parts are of ordinary age;
    ``settled_by``: the symptom that is this fault by definition, '' where there is none.
    """

    id: str
    title: str
    part_class: str
    parts: str
    needs: str
    prior: float
    settled_by: str
    remedy: str
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class Symptom:
    """A kind of line that is off, in which way, at which sort of place ('' any). Lines that say the
    same thing twice share one symptom. ``leak``: how often it is there without any fault."""

    id: str
    lines: tuple[str, ...]
    scope: str
    judgements: frozenset[Judgement]
    title: str
    leak: float


@dataclass(frozen=True, slots=True)
class Measuring:
    """How well a line is read at a sort of place, and which computed lines come with it."""

    lines: tuple[str, ...]
    scope: str
    brings: tuple[tuple[str, str], ...]
    false_alarm: float
    miss: float


@dataclass(frozen=True, slots=True)
class Link:
    """That a fault brings a symptom: how often, alone; 'all': at every place of it, else one."""

    fault: str
    symptom: str
    strength: float
    reach: str


@cache
def faults() -> tuple[Fault, ...]:
    """Every fault, the unlisted one last."""
    return tuple(
        Fault(
            row["id"],
            row["title"],
            row["class"],
            row["parts"],
            row["needs"],
            float(row["prior"]),
            row["settled_by"],
            row["remedy"],
            row["source"],
            row["confidence"],
        )
        for row in facts("causes", "faults")
    )


@cache
def symptoms() -> tuple[Symptom, ...]:
    """Every symptom, in the order of work."""
    return tuple(
        Symptom(
            row["id"],
            tuple(row["line"].split(";")),
            row["scope"],
            frozenset(Judgement(word) for word in row["judgements"].split(";")),
            row["title"],
            float(row["leak"]),
        )
        for row in facts("causes", "symptoms")
    )


@cache
def measurings() -> tuple[Measuring, ...]:
    """Every measurement, in the order of work."""
    return tuple(
        Measuring(
            tuple(row["line"].split(";")),
            row["scope"],
            tuple(_line_scope(text) for text in row["brings"].split(";") if text),
            float(row["false_alarm"]),
            float(row["miss"]),
        )
        for row in facts("causes", "measurements")
    )


@cache
def links() -> tuple[Link, ...]:
    """Every link; '*' as the symptom stands for all that the fault has no row of its own for."""
    return tuple(
        Link(row["fault"], row["symptom"], float(row["strength"]), row["reach"])
        for row in facts("causes", "links")
    )


def assumed(name: str) -> float:
    """A number of ``assumptions.csv``."""
    return float(fact("causes", "assumptions", name)["value"])


def _line_scope(text: str) -> tuple[str, str]:
    line, _, scope = text.partition("@")
    return line, scope


def measured_by(symptom: Symptom) -> Measuring:
    """The measurement whose reading errors a symptom has: its own line's, else the first that
    brings it. Raises KeyError where nothing measures it."""
    for measuring in measurings():
        if set(measuring.lines) & set(symptom.lines) and measuring.scope == symptom.scope:
            return measuring
    for measuring in measurings():
        if any(
            line in symptom.lines and scope == symptom.scope for line, scope in measuring.brings
        ):
            return measuring
    raise KeyError(f"nothing measures {symptom.id}")


@cache
def whole_network() -> Network:
    """Every fault and symptom with the priors of the table."""
    rows = {fault.id: i for i, fault in enumerate(faults())}
    columns = {symptom.id: j for j, symptom in enumerate(symptoms())}
    strength = np.zeros((len(rows), len(columns)))
    everywhere = np.zeros(strength.shape, dtype=np.bool_)
    for link in links():
        if link.symptom == "*":
            strength[rows[link.fault]] = link.strength
            continue
        cell = rows[link.fault], columns[link.symptom]
        strength[cell] = link.strength
        everywhere[cell] = link.reach == "all"
    read = [measured_by(symptom) for symptom in symptoms()]
    return Network(
        prior=np.array([fault.prior for fault in faults()]),
        strength=strength,
        leak=np.array([symptom.leak for symptom in symptoms()]),
        false_alarm=np.array([one.false_alarm for one in read]),
        miss=np.array([one.miss for one in read]),
        everywhere=everywhere,
    )
