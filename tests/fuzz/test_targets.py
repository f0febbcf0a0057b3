"""The fuzzing targets themselves, on a little chance of their own: what is run for minutes must run."""

from __future__ import annotations

import random
from typing import Any

import pytest

from .targets import TARGETS, loaded


class Chance:
    """Arbitrary data from a seeded generator, in the form that the targets ask for."""

    def __init__(self, seed: int) -> None:
        self.r = random.Random(seed)

    def ConsumeIntInRange(self, low: int, high: int) -> int:
        return self.r.randint(low, high)

    def ConsumeUnicodeNoSurrogates(self, count: int) -> str:
        return "".join(
            chr(self.r.choice((self.r.randrange(1, 128), self.r.randrange(1, 0xD800))))
            for _ in range(count)
        )

    def ConsumeBool(self) -> bool:
        return self.r.random() < 0.5

    def ConsumeFloat(self) -> float:
        return self.r.choice((0.0, -1.0, 2.31, 1e300, float("nan"), float("inf")))

    def PickValueInList(self, items: list[Any]) -> Any:
        return self.r.choice(items)

    def remaining_bytes(self) -> int:
        return 200


@pytest.mark.parametrize("name", TARGETS)
def test_whatever_is_typed_is_read_or_refused_in_a_sentence(name: str) -> None:
    for seed in range(60):
        TARGETS[name](Chance(seed))


def test_an_empty_file_is_a_dossier_or_refused() -> None:
    loaded("")
