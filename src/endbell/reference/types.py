"""What a reference pack holds, and the merged view of all packs in force.

Every row carries ``source`` and ``confidence``; the rows the model weighs are these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from ..marks import Tables


@dataclass(frozen=True, slots=True)
class Window:
    """First and last day (None: open) and a weight: a run's volume or a supplier's share."""

    first: date | None
    last: date | None
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Assumption:
    """A number with a name: what the model takes for granted until records say otherwise."""

    name: str
    value: float
    unit: str
    source: str
    confidence: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class PartClass:
    """A class of part. ``dated``: its codes are made before assembly and so have a lag.

    ``plural`` and ``words``: how a claim may name it ('valves', 'pots').
    """

    id: str
    title: str
    plural: str
    words: tuple[str, ...]
    dated: bool


@dataclass(frozen=True, slots=True)
class UsualId:
    """A usual part id ('pot', also 'pot-1'), its class and assembly."""

    id: str
    part_class: str
    assembly: str


@dataclass(frozen=True, slots=True)
class ExpectedPart:
    """A part the model left the factory with, and the kinds of mark it carries."""

    id: str
    part_class: str
    assembly: str
    kinds: tuple[str, ...] = ()
    place: str = ""


@dataclass(frozen=True, slots=True)
class Model:
    """A model: production runs, prior odds against its rivals, expected parts."""

    id: str
    maker: str
    title: str
    runs: tuple[Window, ...]
    odds: float
    softness_weeks: float
    expected: tuple[ExpectedPart, ...]
    source: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class Supply:
    """A supplier of a class of part: source number, window, share of that class's supply then."""

    number: str
    name: str
    part_class: str
    window: Window
    softness_weeks: float
    models: tuple[str, ...] = ()  # empty: all models of the pack
    source: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class FeatureValue:
    """A value of a feature and when (and on which models) it was fitted."""

    value: str
    window: Window
    models: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Feature:
    """A thing that can be looked at. ``group``: features the maker changed together count once.

    ``cost_to_fake`` in [0, 1]: 0 anyone can buy one, 1 can't be had. ``minutes``, ``level``: the
    look.
    """

    id: str
    title: str
    part: str
    group: str
    cost_to_fake: float
    softness_weeks: float
    values: tuple[FeatureValue, ...]
    level: str = "outside"
    minutes: float = 1.0
    source: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class Alternative:
    """One catalogued alternative of a measured quantity: mean and deviation in its unit."""

    value: str
    mean: float
    sd: float
    window: Window
    models: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measured quantity on a part, with its catalogued alternatives."""

    id: str
    title: str
    part: str
    unit: str
    cost_to_fake: float
    softness_weeks: float
    alternatives: tuple[Alternative, ...]
    level: str = "outside"
    minutes: float = 3.0
    source: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class ConditionWord:
    """A condition word and how often it is seen on an original, later and period-replaced part."""

    word: str
    title: str
    group: str
    if_original: float
    if_later: float
    if_period: float
    source: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class Check:
    """A look that can be made at a class of part: minutes, level, chance of a legible mark.

    ``found_original``/``found_replaced``: how often such a mark is there at all; None: not known.
    """

    id: str
    title: str
    part_class: str
    kind: str
    level: str
    minutes: float
    legible: float
    found_original: float | None = None
    found_replaced: float | None = None
    source: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class PartWord:
    """One row of the threshold table: ``word`` where low <= P(original) <= high, first fit."""

    word: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class EraKnot:
    """A point of the broad era prior: relative density at the start of a year (linear between)."""

    year: int
    weight: float


@dataclass(frozen=True, slots=True)
class PackStamp:
    """Which pack, which version, which bytes."""

    id: str
    version: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Reference:
    """All packs in force, merged: the one reference argument of ``weigh``."""

    packs: tuple[PackStamp, ...]
    tables: Tables
    assumptions: Mapping[str, Assumption]
    classes: Mapping[str, PartClass]
    usual_ids: Mapping[str, UsualId]
    assemblies: tuple[str, ...]
    models: tuple[Model, ...] = ()
    supplies: tuple[Supply, ...] = ()
    features: Mapping[str, Feature] = field(default_factory=dict[str, Feature])
    quantities: Mapping[str, Quantity] = field(default_factory=dict[str, Quantity])
    conditions: Mapping[str, ConditionWord] = field(default_factory=dict[str, ConditionWord])
    checks: tuple[Check, ...] = ()
    levels: tuple[str, ...] = ("outside", "back-off", "chassis-out", "loosened")
    part_words: tuple[PartWord, ...] = ()
    era: tuple[EraKnot, ...] = ()
    cautions: Mapping[str, str] = field(default_factory=dict[str, str])  # level -> sentence
