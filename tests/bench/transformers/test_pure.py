"""Ratios, copper, inductance and identity: what follows from what."""

from __future__ import annotations

from math import hypot, inf, nan, pi, sqrt

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from endbell.bench.transformers.copper import at_temperature, to_twenty, winding_rise
from endbell.bench.transformers.identity import (
    Candidate,
    Expected,
    Measured,
    chi_square_tail,
    fit,
    likelihoods,
)
from endbell.bench.transformers.inductance import (
    from_current,
    from_resonance,
    from_two,
    lowest_hertz,
)
from endbell.bench.transformers.ratios import (
    copper_loss,
    ratio_for,
    ratio_spread,
    reflected,
    reflected_table,
    turns_ratio,
)

VOLTS = st.floats(1e-3, 500.0)
RATIO = st.floats(0.01, 200.0)
OHM = st.floats(0.1, 1e5)


@given(VOLTS, VOLTS, st.floats(0.01, 100.0))
def test_a_ratio_does_not_depend_on_the_level(first: float, second: float, level: float) -> None:
    assert turns_ratio(first * level, second * level) == pytest.approx(turns_ratio(first, second))
    assert turns_ratio(second, first) == pytest.approx(1 / turns_ratio(first, second))


@given(RATIO, OHM, OHM)
def test_impedance_goes_through_a_transformer_and_back(
    ratio: float, load: float, other: float
) -> None:
    shown = reflected(ratio, load)
    assert reflected(1 / ratio, shown) == pytest.approx(load)
    assert ratio_for(shown, load) == pytest.approx(ratio)
    assert reflected(ratio, load + other) == pytest.approx(shown + reflected(ratio, other))


def test_every_tap_with_every_load() -> None:
    table = reflected_table({"4": sqrt(2000.0), "8": sqrt(1000.0)}, (4.0, 8.0, 16.0))
    assert table["8"] == pytest.approx({4.0: 4e3, 8.0: 8e3, 16.0: 16e3})
    assert table["4"][4.0] == pytest.approx(table["8"][8.0])  # each tap with its own load


def test_copper_takes_its_share() -> None:
    # n² = 1000: 8 k shown, 0.5 ohm becomes 500, with 250 of the primary: 750 of 8750 lost
    assert copper_loss(sqrt(1000.0), 8.0, 250.0, 0.5) == pytest.approx(750 / 8750)


def test_spreads_of_a_ratio_add_in_squares() -> None:
    assert ratio_spread(10.0, 0.5, 0.1, 0.01) == pytest.approx(20 * hypot(0.01, 0.02))


@pytest.mark.parametrize("bad", [0.0, -1.0, nan, inf])
def test_swapped_probes_and_no_figures_are_refused(bad: float) -> None:
    for call in (
        lambda: turns_ratio(bad, 1.0),
        lambda: turns_ratio(1.0, bad),
        lambda: reflected(bad, 8.0),
        lambda: ratio_for(8e3, bad),
        lambda: from_current(bad, 1.0, 50.0),
        lambda: from_current(1.0, bad, 50.0),
        lambda: from_resonance(bad, 1e-6),
        lambda: lowest_hertz(bad, 1e3, 1e3),
    ):
        with pytest.raises(ValueError, match=r"needed"):
            call()


# ---- copper


@given(st.floats(0.01, 1e4), st.floats(253.15, 400.0))
def test_warm_copper_comes_back_to_its_cold_value(ohm: float, kelvin: float) -> None:
    assert to_twenty(at_temperature(ohm, kelvin), kelvin) == pytest.approx(ohm)


@given(st.floats(1.0, 1e3), st.floats(0.0, 100.0), st.floats(283.15, 303.15))
def test_a_rise_put_in_comes_out(ohm: float, rise: float, cold: float) -> None:
    hot = ohm * (234.5 + cold - 273.15 + rise) / (234.5 + cold - 273.15)
    assert winding_rise(ohm, hot, cold, cold) == pytest.approx(rise, abs=1e-6)


def test_a_temperature_that_is_no_winding_is_refused() -> None:
    with pytest.raises(ValueError, match=r"-100 to 300 °C will do"):
        at_temperature(10.0, 20.0)  # 20 K: degrees Celsius typed as kelvin


# ---- inductance


@given(st.floats(1e-3, 100.0), st.floats(0.1, 1e3), st.floats(20.0, 1e3))
def test_the_copper_is_taken_out_of_the_impedance(henry: float, ohm: float, hertz: float) -> None:
    impedance = hypot(ohm, 2 * pi * hertz * henry)
    assume(2 * pi * hertz * henry > 0.01 * ohm)
    assert from_current(1.0, 1.0 / impedance, hertz, ohm).henry == pytest.approx(henry, rel=1e-6)


@given(st.floats(1e-3, 100.0), st.floats(1.0, 1e3), st.floats(20.0, 200.0))
def test_two_frequencies_give_resistance_and_inductance(
    henry: float, ohm: float, hertz: float
) -> None:
    x = 2 * pi * hertz * henry
    assume(0.05 * ohm < x < 20 * ohm)
    sets = [(1.0, 1.0 / hypot(ohm, 2 * pi * f * henry), f) for f in (hertz, 2 * hertz)]
    coil = from_two(sets[0], sets[1])
    assert coil == from_two(sets[1], sets[0])
    assert coil.henry == pytest.approx(henry, rel=1e-6)
    assert coil.ohm == pytest.approx(ohm, rel=1e-4)


def test_what_is_no_coil_is_told() -> None:
    with pytest.raises(ValueError, match=r"less than the winding's own"):
        from_current(1.0, 1.0, 50.0, 10.0)
    with pytest.raises(ValueError, match=r"are alike"):
        from_two((1.0, 1.0, 50.0), (1.0, 1.0, 50.0))
    with pytest.raises(ValueError, match=r"falls with frequency"):
        from_two((1.0, 1.0, 50.0), (1.0, 2.0, 100.0))
    with pytest.raises(ValueError, match=r"rises faster"):
        from_two((1.0, 1.0, 50.0), (1.0, 0.1, 100.0))


def test_resonance_and_the_lowest_note() -> None:
    assert from_resonance(50.0, 1e-6) == pytest.approx(1 / ((100 * pi) ** 2 * 1e-6))
    # 10 H behind 8 k of source and 8 k of load: 4 k/(2π·10)
    assert lowest_hertz(10.0, 8e3, 8e3) == pytest.approx(63.66, abs=0.01)


# ---- identity

RIGHT = Candidate("right", {"ratio": Expected(31.6, 0.3), "ohm": Expected(250.0, 25.0)})
OTHER = Candidate("other", {"ratio": Expected(28.7, 0.3), "ohm": Expected(180.0, 18.0)})


def test_the_right_transformer_is_the_likelier() -> None:
    found = likelihoods(
        [Measured("ratio", 31.5, 0.1), Measured("ohm", 262.0, 2.0)], [OTHER, RIGHT], 0.01
    )
    assert [one.id for one in found] == ["right", "other"]
    assert found[0].share > 0.999 and sum(one.share for one in found) == pytest.approx(1.0)
    assert found[0].fit > 0.5 > 0.01 > found[1].fit


def test_one_slip_does_not_decide() -> None:
    slipped = [Measured("ratio", 31.5, 0.1), Measured("ohm", 2.62, 0.02)]
    assert likelihoods(slipped, [RIGHT, OTHER], 0.01)[0].id == "right"


def test_what_only_one_candidate_knows_is_left_out() -> None:
    more = Candidate("more", {**OTHER.expected, "henry": Expected(20.0, 5.0)})
    (first, _) = likelihoods(
        [Measured("henry", 20.0, 1.0), Measured("ratio", 31.5, 0.1)], [RIGHT, more], 0.01
    )
    assert first.used == ("ratio",) and first.id == "right"


def test_nothing_measured_leaves_the_candidates_alike() -> None:
    assert [one.share for one in likelihoods([], [RIGHT, OTHER], 0.01)] == [0.5, 0.5]
    assert likelihoods([], [], 0.01) == ()
    assert fit([], RIGHT) == 1.0


@given(st.floats(0.0, 300.0), st.floats(0.0, 300.0), st.integers(1, 12))
def test_the_tail_falls_from_one_to_nothing(one: float, other: float, freedom: int) -> None:
    low, high = sorted((one, other))
    assert 0.0 <= chi_square_tail(high, freedom) <= chi_square_tail(low, freedom) <= 1.0


def test_a_right_transformer_looks_right_as_often_as_it_says() -> None:
    # readings drawn as they are modelled: the fit is then spread evenly from 0 to 1
    random = np.random.default_rng(993)
    fits: list[float] = []
    for _ in range(2000):
        drawn = [
            Measured(name, float(random.normal(row.value, hypot(row.sd, 0.3))), 0.3)
            for name, row in RIGHT.expected.items()
        ]
        fits.append(fit(drawn, RIGHT))
    shares = np.histogram(fits, bins=10, range=(0.0, 1.0))[0] / len(fits)
    assert shares == pytest.approx(np.full(10, 0.1), abs=0.03)
