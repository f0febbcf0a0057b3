"""A-weighting as a curve and as a filter."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from endbell.bench.audio import a_weight, a_weight_db, a_weighted


def test_it_is_0_db_at_1_khz_and_nothing_passes_at_0_hz() -> None:
    assert float(a_weight_db(1000.0)) == 0.0
    assert float(a_weight(0.0)) == 0.0


@pytest.mark.parametrize("rate", [44100, 192000])
@pytest.mark.parametrize("hz", [31.5, 100.0, 1000.0, 8000.0, 20000.0])
def test_the_filter_follows_the_curve_up_to_half_the_sample_rate(rate: int, hz: float) -> None:
    t = np.arange(rate) / rate
    wave = np.sin(2 * pi * hz * t) * np.sin(pi * t) ** 2
    out = a_weighted(wave, rate)
    middle = slice(rate // 4, 3 * rate // 4)
    gain = np.sqrt(np.mean(out[middle] ** 2) / np.mean(wave[middle] ** 2))
    assert 20 * np.log10(gain) == pytest.approx(float(a_weight_db(hz)), abs=0.02)
