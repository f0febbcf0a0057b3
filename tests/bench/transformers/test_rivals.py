"""A transformer that came out of another model is known by what it measures."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import pytest

from endbell.bench.circuit import Circuit, Winding
from endbell.bench.transformers import rivals

from ..amps import AMP, bench, read

BEACON = replace(
    AMP,
    id="beacon-45",
    windings=(
        Winding("p", "ot", "primary", dc_ohm=140.0, turns=1.0),
        Winding("tap-8", "ot", "secondary", dc_ohm=0.4, turns=1 / sqrt(500.0), load_ohm=8.0),
    ),
)
WICK = replace(AMP, id="wick-6", windings=())
ALL: tuple[Circuit, ...] = (AMP, BEACON, WICK)


def test_the_other_models_transformer_is_recognised() -> None:
    own = bench(read(1, "winding-ratio", 31.5, "ot-8"), read(2, "winding-ohm", 255.0, "ot-primary"))
    assert rivals(own, ALL, "ot")[0].id == "lantern-20"
    swapped = bench(
        read(1, "winding-ratio", 22.4, "ot-8"), read(2, "winding-ohm", 133.0, "ot-primary")
    )
    best, other = rivals(swapped, ALL, "ot")
    assert best.id == "beacon-45" and best.share > 0.99 and best.fit > 0.1
    assert other.id == "lantern-20" and other.fit < 0.01
    assert set(best.used) == {"ratio:secondary 8", "resistance:primary"}


def test_a_tap_that_only_one_model_has_decides_nothing() -> None:
    found = rivals(bench(read(1, "winding-ratio", 44.7, "ot-4")), ALL, "ot")
    assert [one.share for one in found] == pytest.approx([0.5, 0.5])


def test_a_part_that_no_model_states_has_no_candidate() -> None:
    assert rivals(bench(), ALL, "rt") == ()
    assert rivals(bench(), (), "ot") == ()
