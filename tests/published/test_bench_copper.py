"""Copper, wire, transformers and the tail of χ² against published figures.

The constants are those of IEC 60028 (1/58 ohm·mm²/m seen, 0.00393 per K from memory); wire by ASTM
B258, its formula from memory; each other source stands beside its check.
"""

from __future__ import annotations

import re

import pytest
from scipy import stats

from endbell.bench.facts import facts
from endbell.bench.transformers.copper import (
    KELVIN,
    TWENTY,
    at_temperature,
    awg_diameter,
    resistivity,
    to_twenty,
    winding_rise,
    wire_ohm,
)
from endbell.bench.transformers.identity import chi_square_tail
from endbell.bench.transformers.ratios import ratio_for, reflected

WIRE = facts("transformers", "awg")

# Correction factors of IEC 60228 as printed at
# https://www.uecables.com/471-power-copper-conductors-according-to-iec-60228.html: R20 = Kt·R.  They
# follow 250/(230 + t), a shade coarser than IEC 60028.
FACTORS = {
    5: 1.064,
    10: 1.042,
    15: 1.020,
    20: 1.0,
    25: 0.980,
    30: 0.962,
    40: 0.926,
    50: 0.893,
    60: 0.862,
    80: 0.806,
    100: 0.758,
}


def test_standard_copper_conducts_58_megasiemens_per_metre() -> None:
    assert 1.0 / resistivity() == pytest.approx(58e6, rel=1e-4)


@pytest.mark.parametrize(("celsius", "factor"), FACTORS.items())
def test_copper_comes_back_to_20_degrees_by_the_published_factor(
    celsius: int, factor: float
) -> None:
    assert to_twenty(1.0, KELVIN + celsius) == pytest.approx(factor, rel=0.005)


@pytest.mark.parametrize("celsius", [0, 20, 40, 75, 100, 120])
def test_the_straight_line_is_that_of_234_5_degrees(celsius: int) -> None:
    # IEC 60028 and the resistance method: (234.5 + T)/(234.5 + 20), to 0.1 % (from memory)
    assert at_temperature(1.0, KELVIN + celsius) == pytest.approx(
        (234.5 + celsius) / 254.5, rel=1e-3
    )


def test_copper_gains_39_percent_from_20_to_120_degrees() -> None:
    # 100 K at 0.393 % per K (IEC 60028, from memory)
    assert at_temperature(100.0, KELVIN + 120) == pytest.approx(139.3)


def test_a_tenth_more_resistance_is_a_rise_of_about_25_kelvin() -> None:
    # ΔT = (R2 - R1)/R1·(234.5 + T1) - (T2 - T1): IEC 60065 annex formula, from memory
    assert winding_rise(100.0, 110.0, TWENTY, TWENTY) == pytest.approx(25.45)
    assert winding_rise(100.0, 110.0, TWENTY, TWENTY + 5.0) == pytest.approx(20.45)


@pytest.mark.parametrize("row", WIRE, ids=lambda row: f"AWG{row['key']}")
def test_a_gauge_of_wire_has_its_published_diameter_and_resistance(row: dict[str, str]) -> None:
    diameter = awg_diameter(float(row["key"]))
    assert diameter == pytest.approx(float(row["value"]), abs=6e-5)
    stated = re.search(r"copper ([0-9.]+) ohm/km", row["note"])
    assert stated is not None
    assert wire_ohm(1000.0, diameter) == pytest.approx(float(stated[1]), rel=1e-3)


@pytest.mark.parametrize(
    ("primary", "load", "ratio"),
    # turns ratios as any textbook of output transformers has them, from memory: √(Z/R)
    [
        (5000, 8, 25.0),
        (8000, 8, 31.6),
        (6600, 8, 28.7),
        (8000, 4, 44.7),
        (6600, 16, 20.3),
        (3200, 8, 20.0),
    ],
)
def test_a_turns_ratio_matches_a_load_to_its_primary(
    primary: float, load: float, ratio: float
) -> None:
    assert ratio_for(primary, load) == pytest.approx(ratio, abs=0.05)
    assert reflected(ratio_for(primary, load), load) == pytest.approx(primary)


@pytest.mark.parametrize(
    ("freedom", "five", "one"),
    # upper critical values of χ² at 5 and 1 %: any table of it, from memory
    [
        (1, 3.841, 6.635),
        (2, 5.991, 9.210),
        (3, 7.815, 11.345),
        (4, 9.488, 13.277),
        (5, 11.070, 15.086),
        (10, 18.307, 23.209),
    ],
)
def test_the_tail_of_chi_square_is_that_of_the_tables(
    freedom: int, five: float, one: float
) -> None:
    assert chi_square_tail(five, freedom) == pytest.approx(0.05, abs=1e-4)
    assert chi_square_tail(one, freedom) == pytest.approx(0.01, abs=1e-4)
    for square in (0.1, 1.0, 7.3, 40.0, 200.0):
        ours = chi_square_tail(square, freedom)
        assert ours == pytest.approx(float(stats.chi2.sf(square, freedom)), rel=1e-9)
