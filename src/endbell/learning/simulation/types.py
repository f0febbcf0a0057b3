"""What a simulator gives: a dossier as a bench would type it, and the truth it was drawn from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Truth:
    """What really happened to a drawn amp.

    ``week``: index into the grid, week 0 is 1930-W01; ``build``: the same as '1964-W14'.
    ``origins``: part -> 'original', 'later' or 'period'; a part of a married assembly is never
    'original'.  ``married``: assemblies that are another amp's.  ``claim_true``: None where nothing
    is claimed.
    """

    model: str | None
    week: int
    build: str
    stock_age: float
    origins: Mapping[str, str]
    married: frozenset[str]
    claim_true: bool | None


@dataclass(frozen=True, slots=True)
class Drawn:
    """One drawn dossier: its id, the text of its TOML file, the truth beside it."""

    id: str
    text: str
    truth: Truth


@dataclass(frozen=True, slots=True)
class Twist:
    """Ways in which the world may differ from the model that weighs it.

    ``heavy_tails``: the logarithm of every log-normal lag follows Student's t with three degrees of
    freedom instead of the normal law, at the same median and scale.  ``wrong_suppliers``: the list
    of suppliers is wrong; in half of the classes their numbers, in the others their windows are
    passed on to the next.  ``wrong_marks``: share of the marks that are valid marks of their kind,
    drawn at random and unrelated to the amp.
    """

    heavy_tails: bool = False
    wrong_suppliers: bool = False
    wrong_marks: float = 0.0
