"""Output impedance and damping factor from the voltages at two loads."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from endbell.bench.audio import RecordingError
from endbell.bench.audio.impedance import output_impedance


@pytest.mark.parametrize("ohm", [0.1, 1.0, 8.0, 70.0])
@pytest.mark.parametrize("loads", [(8.0, 16.0), (16.0, 4.0), (8.0, inf)])
def test_the_source_is_found_whatever_the_order(ohm: float, loads: tuple[float, float]) -> None:
    points = [(load, 10.0 if load == inf else 10.0 * load / (load + ohm)) for load in loads]
    found = output_impedance(points[0], points[1])
    assert found.ohm == pytest.approx(ohm)
    assert found.damping(8.0) == pytest.approx(8.0 / ohm)


def test_its_spread_is_what_voltages_a_little_off_make_of_it() -> None:
    rng = np.random.default_rng(1)
    drawn = [
        output_impedance((8.0, 5.0 * (1 + 0.002 * a)), (16.0, 20 / 3 * (1 + 0.002 * b))).ohm
        for a, b in rng.normal(size=(4000, 2))
    ]
    found = output_impedance((8.0, 5.0), (16.0, 20 / 3), 0.002)
    assert found.spread == pytest.approx(np.std(drawn), rel=0.05)


@pytest.mark.parametrize(
    "points",
    [
        ((8.0, 5.0), (8.2, 5.1)),
        ((8.0, 0.0), (16.0, 5.0)),
        ((0.0, 1.0), (8.0, 5.0)),
        ((8.0, -5.0), (16.0, 5.0)),
        ((8.0, float("nan")), (16.0, 5.0)),
    ],
)
def test_loads_alike_and_voltages_that_are_none_are_refused(points: tuple) -> None:
    with pytest.raises(RecordingError, match="Take two loads"):
        output_impedance(*points)


def test_voltages_that_fit_no_amp_are_said() -> None:
    with pytest.raises(RecordingError, match="were they swapped"):
        output_impedance((8.0, 2.0), (16.0, 5.0))
