"""Colour code, letter code, preferred values and the old leakage rule against published ones.

Colours and series: ``bench/data/components``, each row with its source (IEC 60062 and 60063, mostly
from memory).  Letter codes: examples seen on the pages named.
"""

from __future__ import annotations

import pytest

from endbell.bench.components import (
    bands_of,
    is_preferred,
    nearest,
    numbers,
    read_bands,
    read_body_end_dot,
    read_farad,
    read_ohm,
)
from endbell.bench.components.e_series import neighbours, series_of
from endbell.bench.components.limits_of_parts import electrolytic_leakage
from endbell.bench.facts import facts


@pytest.mark.parametrize(
    ("bands", "ohm", "tolerance"),
    # worked examples of the code as every handbook has them, from memory
    [
        ("brown black black gold", 10.0, 0.05),
        ("brown black red gold", 1e3, 0.05),
        ("yellow violet red gold", 4.7e3, 0.05),
        ("red red orange silver", 22e3, 0.10),
        ("brown black yellow silver", 100e3, 0.10),
        ("brown green green silver", 1.5e6, 0.10),
        ("green blue gold gold", 5.6, 0.05),
        ("yellow violet silver gold", 0.47, 0.05),
        ("orange orange brown", 330.0, 0.20),
        ("brown black black red brown", 10e3, 0.01),
        ("yellow violet black brown brown", 4.7e3, 0.01),
        ("red red black black red", 220.0, 0.02),
        ("brown green black orange brown", 150e3, 0.01),
    ],
)
def test_bands_read_as_in_the_handbooks(bands: str, ohm: float, tolerance: float) -> None:
    best = read_bands(bands.split())[0]
    assert (best.ohm, best.tolerance, best.turned) == (ohm, tolerance, False)
    assert bands_of(ohm, tolerance, 3 if len(bands.split()) == 5 else 2) == tuple(bands.split())


def test_a_sixth_band_is_the_temperature_coefficient() -> None:
    # IEC 60062: brown 100, red 50 per million and kelvin (from memory)
    found = {
        b: read_bands(f"brown black black red brown {b}".split())[0].tcr for b in ("brown", "red")
    }
    assert found == {"brown": 100e-6, "red": 50e-6}


def test_a_single_black_band_is_a_link() -> None:
    # a zero-ohm link: common practice, no source
    assert read_bands(["black"])[0].ohm == 0.0


def test_body_end_and_dot_of_the_thirties() -> None:
    # RMA marking: body first digit, end second, dot multiplier (from memory, medium)
    assert read_body_end_dot("yellow", "violet", "orange").ohm == 47e3
    assert read_body_end_dot("red", "black", "", "gold").ohm == 2e3


def test_the_series_of_two_digits_are_the_published_lists() -> None:
    # IEC 60063
    assert numbers("E6") == (10, 15, 22, 33, 47, 68)
    assert numbers("E12") == (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
    assert set(numbers("E3")) < set(numbers("E6")) < set(numbers("E12")) < set(numbers("E24"))


def test_e24_leaves_the_rounded_formula_at_eight_places() -> None:
    # 27 30 33 36 39 43 47 82, where the formula gives 26 29 32 35 38 42 46 83 (IEC 60063)
    rule = [round(10 * 10 ** (i / 24)) for i in range(24)]
    off = [
        (ours, by_rule)
        for ours, by_rule in zip(numbers("E24"), rule, strict=True)
        if ours != by_rule
    ]
    assert off == [(27, 26), (30, 29), (33, 32), (36, 35), (39, 38), (43, 42), (47, 46), (82, 83)]


@pytest.mark.parametrize("series", ["E48", "E96"])
def test_the_series_of_three_digits_follow_the_rounded_formula(series: str) -> None:
    count = int(series[1:])
    assert list(numbers(series)) == [round(100 * 10 ** (i / count)) for i in range(count)]


def test_e192_has_920_where_the_formula_gives_919() -> None:
    # IEC 60063, from memory; noted at the E96 row of the table
    rule = {round(100 * 10 ** (i / 192)) for i in range(192)}
    assert rule - set(numbers("E192")) == {919}
    assert set(numbers("E192")) - rule == {920}
    assert len(numbers("E192")) == 192
    assert set(numbers("E48")) < set(numbers("E96")) < set(numbers("E192"))


@pytest.mark.parametrize(
    ("value", "series", "want"),
    [
        (50e3, "E12", 47e3),
        (50e3, "E24", 51e3),
        (250e3, "E12", 270e3),
        (0.9, "E6", 1.0),
        (919e3, "E192", 920e3),
        (95.0, "E12", 100.0),
        (5000.0, "E96", 4990.0),
    ],
)
def test_the_nearest_preferred_value(value: float, series: str, want: float) -> None:
    assert nearest(value, series) == want
    low, high = neighbours(value, series)
    assert low <= value <= high and want in (low, high)


@pytest.mark.parametrize(
    ("tolerance", "series"),
    [
        (0.2, "E6"),
        (0.1, "E12"),
        (0.05, "E24"),
        (0.02, "E48"),
        (0.01, "E96"),
        (0.005, "E192"),
        (0.001, "E192"),
    ],
)
def test_each_tolerance_has_its_series(tolerance: float, series: str) -> None:
    assert series_of(tolerance) == series


def test_pots_of_50_and_250_kilohm_are_in_no_series() -> None:
    # made in round figures from before preferred values: common practice, no source
    assert not is_preferred(50e3, "E192") and not is_preferred(250e3, "E24")


@pytest.mark.parametrize(
    ("text", "ohm", "tolerance"),
    [
        # https://en.wikipedia.org/wiki/IEC/EN_60062
        ("R47", 0.47, None), ("4R7", 4.7, None), ("470R", 470.0, None), ("4K7", 4.7e3, None),
        ("47K", 47e3, None), ("47K3", 47.3e3, None), ("470K", 470e3, None), ("4M7", 4.7e6, None),
        # https://eeemadeeasy.com/bs-1852-resistance-code
        ("3k9K", 3.9e3, 0.10), ("R47G", 0.47, 0.02), ("1M2F", 1.2e6, 0.01), ("68kK", 68e3, 0.10),
        ("5K6G", 5.6e3, 0.02), ("33KK", 33e3, 0.10), ("47K3F", 47.3e3, 0.01), ("R33", 0.33, None),
        # https://vincenzov.net/tutorial/elettronica-di-base/resistenze/BS1852.htm
        ("15RJ", 15.0, 0.05), ("1R5F", 1.5, 0.01), ("K15", 150.0, None), ("150KJ", 150e3, 0.05), ("15M", 15e6, None),
        # http://www.electrostudy.com/2011/09/code-printed-on-resistors.html
        ("1R8J", 1.8, 0.05), ("27KK", 27e3, 0.10), ("2k2", 2.2e3, None),
    ],
)  # fmt: skip
def test_a_printed_resistance_reads_as_published(
    text: str, ohm: float, tolerance: float | None
) -> None:
    coded = read_ohm(text)
    assert (coded.value, coded.tolerance) == (ohm, tolerance)


@pytest.mark.parametrize(
    ("text", "farad", "tolerance"),
    # IEC 60062 and the three digits in picofarad: any handbook, from memory
    [
        ("4n7", 4.7e-9, None),
        ("p33", 0.33e-12, None),
        ("473K", 47e-9, 0.10),
        ("104M", 100e-9, 0.20),
        ("22µ", 22e-6, None),
        ("229", 2.2e-12, None),
    ],
)
def test_a_printed_capacitance_reads_as_in_the_handbooks(
    text: str, farad: float, tolerance: float | None
) -> None:
    coded = read_farad(text)
    assert coded.value == pytest.approx(farad)
    assert coded.tolerance == tolerance


@pytest.mark.parametrize(("volts", "milliampere"), [(450.0, 1.1), (250.0, 0.7)])
def test_twenty_microfarad_may_leak_what_the_old_specification_says(
    volts: float, milliampere: float
) -> None:
    # JAN-C-62 with its own examples: https://www.mail-archive.com/amradio@mailman.qth.net/msg21215.html
    known = electrolytic_leakage(20e-6, volts)
    assert known is not None
    assert known[0] == pytest.approx(milliampere * 1e-3)


def test_every_colour_row_says_what_it_rests_on() -> None:
    assert all(row["source"] and row["how"] for row in facts("components", "colours"))
