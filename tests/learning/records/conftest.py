"""Dossiers drawn under known values, and the values that can be learned from them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date

import pytest

from endbell.chronology import assumptions_in_force
from endbell.dossier import Dossier, parse_dossier
from endbell.learning.records.subjects import Subjects, subjects_of
from endbell.learning.simulation import Simulator
from endbell.reference import Reference, load_reference

AS_OF = date(1976, 3, 1)
"""Keeps the sums short: what can be learned here happened before."""

Draw = Callable[..., list[Dossier]]


@pytest.fixture(scope="session")
def brackwater() -> Reference:
    return load_reference(("brackwater",))[0]


@pytest.fixture(scope="session")
def assume(brackwater: Reference) -> dict[str, float]:
    return assumptions_in_force(brackwater, {})


@pytest.fixture(scope="session")
def subjects(brackwater: Reference, assume: Mapping[str, float]) -> Subjects:
    return subjects_of(brackwater, assume, AS_OF)


@pytest.fixture(scope="session")
def draw(brackwater: Reference, assume: Mapping[str, float]) -> Draw:
    """``draw(seed, n, **changed)``: n dossiers; ``lag__choke__sigma=0.3`` changes an assumption."""

    def drawn(
        seed: int, n: int, reference: Reference = brackwater, **changed: float
    ) -> list[Dossier]:
        values = {
            **assume,
            **{k.replace("__", ".").replace("-", "_"): v for k, v in changed.items()},
        }
        simulator = Simulator(reference, values, packs=("brackwater",), as_of=AS_OF)
        texts = (simulator.draw(seed, i).text for i in range(n))
        return [parse_dossier(text, lambda _: brackwater, today=AS_OF) for text in texts]

    return drawn


def dossier(body: str, reference: Reference, head: str = "") -> Dossier:
    """A dossier typed by hand, as of AS_OF."""
    text = f'as_of = {AS_OF}\npacks = ["brackwater"]\n{head}\n{body}'
    return parse_dossier(text, lambda _: reference, today=AS_OF)


def mark(part: str, kind: str, text: str, legibility: str = "clear") -> str:
    """A mark that is a text."""
    return (
        f'[[mark]]\npart = "{part}"\nkind = "{kind}"\ntext = "{text}"\n'
        f'legibility = "{legibility}"\n'
    )


def look(part: str, feature: str, value: str) -> str:
    """A feature seen."""
    return (
        f'[[mark]]\npart = "{part}"\nkind = "feature"\nfeature = "{feature}"\nvalue = "{value}"\n'
    )
