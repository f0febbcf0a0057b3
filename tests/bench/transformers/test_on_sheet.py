"""What a sheet says of its transformers."""

from __future__ import annotations

from math import hypot, nan, pi, sqrt

import pytest

from endbell.bench.lines import Judgement
from endbell.bench.transformers import lines

from ..amps import bench, changed, read, the


def test_an_empty_sheet_asks_for_every_winding_that_is_drawn() -> None:
    found = lines(bench())
    assert all(line.judgement is Judgement.NOT_MEASURED for line in found)
    asked = {(line.id, line.at) for line in found}
    assert {
        ("winding-ohm", "ot-primary"),
        ("winding-ratio", "ot-8"),
        ("winding-ratio", "ot-4"),
    } <= asked
    assert {
        ("primary-impedance", "ot-8"),
        ("winding-volts", "hv"),
        ("transformer-identity", "ot"),
    } <= asked


def test_a_winding_is_held_to_its_resistance_at_its_temperature() -> None:
    warm = bench(read(1, "winding-ohm", 306.0, at="ot-primary"), ambient=303.15)
    line = the(lines(warm), "winding-ohm", "ot-primary")
    assert line.expected == pytest.approx(250 * 1.0393) and line.judgement is Judgement.WITHIN
    cold = bench(read(1, "winding-ohm", 306.0, at="ot-primary"))
    assert the(lines(cold), "winding-ohm", "ot-primary").judgement is Judgement.HIGH
    short = bench(read(1, "winding-ohm", 20.0, at="hv"))
    assert the(lines(short), "winding-ohm", "hv").judgement is Judgement.LOW


def test_the_primary_shows_the_load_times_the_ratio_squared() -> None:
    sheet = bench(
        read(1, "ratio-primary-volts", 10.0, "ot-8"),
        read(2, "ratio-secondary-volts", 10 / sqrt(1000), "ot-8"),
    )
    line = the(lines(sheet), "primary-impedance", "ot-8")
    assert line.value == pytest.approx(8000.0) and line.judgement is Judgement.WITHIN
    assert line.readings == (1, 2)
    assert "on the same tap 4 Ω as 4 kΩ" in line.works


def test_the_copper_is_told_beside_it() -> None:
    sheet = bench(
        read(1, "winding-ratio", sqrt(1000), "ot-8"),
        read(2, "winding-ohm", 250.0, "ot-primary"),
        read(3, "winding-ohm", 0.5, "ot-8"),
    )
    assert "8.75 kΩ" in the(lines(sheet), "primary-impedance", "ot-8").works


def test_a_transformer_for_another_load_is_off() -> None:
    sheet = bench(read(1, "winding-ratio", 20.3, "ot-8"))
    assert the(lines(sheet), "winding-ratio", "ot-8").judgement is Judgement.LOW
    assert the(lines(sheet), "primary-impedance", "ot-8").judgement is Judgement.LOW
    assert the(lines(sheet), "transformer-identity", "ot").judgement is Judgement.LOW


def test_one_voltage_is_no_ratio() -> None:
    sheet = bench(read(1, "ratio-primary-volts", 10.0, "ot-8"))
    line = the(lines(sheet), "winding-ratio", "ot-8")
    assert line.judgement is Judgement.NOT_MEASURED and "Both voltages" in line.says


def test_the_right_transformer_passes_for_itself() -> None:
    sheet = bench(
        read(1, "winding-ratio", 31.4, "ot-8"),
        read(2, "winding-ratio", 44.9, "ot-4"),
        read(3, "winding-ohm", 262.0, "ot-primary"),
    )
    line = the(lines(sheet), "transformer-identity", "ot")
    assert line.judgement is Judgement.WITHIN and line.value is not None and line.value > 0.3
    assert line.readings == (3, 1, 2)


def test_an_inductance_comes_from_one_frequency_or_two() -> None:
    def taken(at: str, hertz: float, n: int) -> list[object]:
        amps = 10.0 / hypot(250.0, 2 * pi * hertz * 12.0)
        return [
            read(n, "winding-test-volts", 10.0, at),
            read(n + 1, "winding-test-amps", amps, at),
            read(n + 2, "winding-test-hertz", hertz, at),
        ]

    one = [*taken("ot-primary", 50.0, 1), read(9, "winding-ohm", 250.0, "ot-primary")]
    line = the(lines(bench(*one)), "winding-inductance", "ot-primary")  # pyright: ignore[reportArgumentType]
    assert line.value == pytest.approx(12.0) and line.judgement is Judgement.NO_LIMIT
    two = [*taken("ot-primary", 50.0, 1), *taken("ot-primary@2", 20.0, 4)]
    line = the(lines(bench(*two)), "winding-inductance", "ot-primary")  # pyright: ignore[reportArgumentType]
    assert line.value == pytest.approx(12.0) and "250 Ω" in line.works
    lone = the(
        lines(bench(read(1, "winding-test-volts", 10.0, "choke"))), "winding-inductance", "choke"
    )
    assert lone.judgement is Judgement.NOT_MEASURED


def test_a_secondary_follows_the_mains_that_was_measured() -> None:
    sheet = bench(read(1, "mains-volts", 124.0), read(2, "winding-volts", 690.0, "hv"))
    line = the(lines(sheet), "winding-volts", "hv")
    assert line.expected == pytest.approx(650 * 124 / 117) and line.judgement is Judgement.WITHIN
    low = bench(read(1, "mains-volts", 124.0), read(2, "winding-volts", 400.0, "hv"))
    assert the(lines(low), "winding-volts", "hv").judgement is Judgement.LOW


@pytest.mark.parametrize("bad", [nan, -1.0, float("inf"), 0.0])
@pytest.mark.parametrize(
    "line",
    [
        "winding-ohm",
        "winding-ratio",
        "ratio-primary-volts",
        "winding-test-amps",
        "winding-inductance",
        "winding-volts",
    ],
)
def test_what_cannot_be_is_told_and_used_nowhere(line: str, bad: float) -> None:
    at = "hv" if line == "winding-volts" else "ot-8"
    others = [
        read(2, "ratio-secondary-volts", 0.3, "ot-8"),
        read(3, "winding-test-volts", 1.0, "ot-8"),
        read(4, "winding-test-hertz", 50.0, "ot-8"),
    ]
    found = lines(bench(read(1, line, bad, at), *others))
    here = [one for one in found if 1 in one.readings]
    if bad == 0.0 and line in ("winding-ohm", "winding-volts"):
        assert all(one.judgement is Judgement.LOW for one in here)  # a short is possible
    else:
        assert here and all(one.judgement is Judgement.IMPOSSIBLE for one in here)
    assert all(one.says for one in found)


def test_an_ambient_in_celsius_is_told() -> None:
    line = the(
        lines(bench(read(1, "winding-ohm", 250.0, "ot-primary"), ambient=20.0)),
        "winding-ohm",
        "ot-primary",
    )
    assert line.judgement is Judgement.IMPOSSIBLE and "-100 to 300 °C" in line.says


def test_without_windings_there_is_nothing_to_say() -> None:
    assert lines(bench(circuit=changed(windings=()))) == ()
