"""Drawn dossiers, made once: a few hundred with a maker's pack, a few hundred without any."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from endbell.learning.simulation import Drawn, Simulator, Twist
from endbell.reference import Reference, load_reference

AS_OF = date(2026, 1, 5)


@dataclass(frozen=True)
class Seen:
    """A drawn dossier and its file as a TOML parser sees it."""

    drawn: Drawn
    file: Mapping[str, Any]

    @property
    def marks(self) -> list[Mapping[str, Any]]:
        return self.file["mark"]


def packs_in_force(packs: Sequence[str], search: Sequence[Path] = ()) -> Reference:
    reference, problems = load_reference(packs, search)
    assert problems == ()
    return reference


def a_simulator(
    *packs: str,
    twist: Twist | None = None,
    as_of: date = AS_OF,
    reference: Reference | None = None,
    **assume: float,
) -> Simulator:
    """A simulator; assumptions by name with dots as underscores doubled (``prior__leak``)."""
    reference = reference or packs_in_force(packs)
    values = {name: a.value for name, a in reference.assumptions.items()}
    values.update({name.replace("__", "."): value for name, value in assume.items()})
    return Simulator(reference, values, packs=packs, as_of=as_of, twist=twist or Twist())


def some(simulator: Simulator, n: int, seed: int = 1) -> list[Seen]:
    drawn = [simulator.draw(seed, i) for i in range(n)]
    return [Seen(d, tomllib.loads(d.text)) for d in drawn]


@pytest.fixture(scope="session")
def brackwater() -> Reference:
    return packs_in_force(("brackwater",))


@pytest.fixture(scope="session")
def with_maker() -> list[Seen]:
    return some(a_simulator("brackwater"), 700)


@pytest.fixture(scope="session")
def without_maker() -> list[Seen]:
    return some(a_simulator(), 500)
