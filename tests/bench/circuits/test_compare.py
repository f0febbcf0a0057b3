"""A measured response against the computed one, balance, and the plots of both."""

from __future__ import annotations

import json

import numpy as np
import pytest

from endbell.bench.circuits.compare import compare, tilt
from endbell.bench.circuits.inverter import balance
from endbell.bench.circuits.plots import curve, response_spec
from endbell.bench.circuits.response import spaced, stage
from endbell.bench.circuits.tolerance import gain_shares, gain_spread
from endbell.bench.valves.tolerance import assumed, even

STAGE = stage("C1 in out 10n\nR1 out 0 100k\nR2 out 0 1Meg", "in", "out")
HZ = np.array([20.0, 50.0, 100.0, 500.0, 1000.0, 5000.0, 20_000.0])


def test_what_was_measured_as_computed_is_off_by_nothing() -> None:
    found = compare(STAGE, HZ[::-1], STAGE.response_db(HZ)[::-1])
    assert found.rms == pytest.approx(0.0, abs=1e-12)
    assert tilt(found) == ""
    assert list(found.hz) == sorted(HZ)


def test_a_level_is_taken_out_only_where_asked() -> None:
    louder = STAGE.response_db(HZ) + 3.0
    assert compare(STAGE, HZ, louder).worst == pytest.approx(3.0)
    assert compare(STAGE, HZ, louder, align=True).worst == pytest.approx(0.0, abs=1e-9)
    assert compare(STAGE, HZ, louder, align_at=1000.0).shift == pytest.approx(-3.0)


def test_one_bad_point_does_not_move_the_level_of_the_others() -> None:
    measured = STAGE.response_db(HZ) + 3.0
    measured[0] -= 10.0
    found = compare(STAGE, HZ, measured, align=True)
    assert (found.worst, found.worst_hz) == (pytest.approx(-10.0), 20.0)
    assert tilt(found) == "low"


@pytest.mark.parametrize(
    ("added", "where"),
    [
        ([-5, -4, 0, 0, 0, 0, 0], "low"),
        ([0, 0, 0, 0, 0, 0, 5], "high"),
        ([5, 0, 0, 0, 0, 0, 5], "both ends"),
        ([0, 0, 0, 6, 0, 0, 0], "middle"),
        ([5, -5, 5, -5, 5, -5, 5], "all over"),
    ],
)
def test_where_it_strays_is_told(added: list[float], where: str) -> None:
    assert tilt(compare(STAGE, HZ, STAGE.response_db(HZ) + np.array(added))) == where


@pytest.mark.parametrize(
    ("hz", "db", "words"),
    [
        ([], [], "1 or more"),
        ([10, 20], [1], "2 frequencies and 1 levels"),
        ([0.0], [1.0], "above 0"),
        ([np.nan], [1.0], "above 0"),
        ([10.0], [-np.inf], "silent output"),
    ],
)
def test_points_that_cannot_be_are_told(hz: list[float], db: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        compare(STAGE, hz, db)


def test_the_spread_of_a_divider_is_that_of_its_resistors() -> None:
    # half and half: d(dB) = 20/ln 10 * 1/2 * (dR2/R2 - dR1/R1)
    of = stage("R1 in out 100k tol=5%\nR2 out 0 100k tol=10%", "in", "out")
    shares = gain_shares(of, 1000.0)
    unit = 20.0 / np.log(10.0) / 2.0
    assert shares["R1"] == pytest.approx(unit * even(0.05), rel=2e-3)
    assert shares["R2"] == pytest.approx(unit * even(0.10), rel=2e-3)
    assert gain_spread(of, 1000.0) == (
        pytest.approx(unit * np.hypot(even(0.05), even(0.10)), rel=2e-3),
        "R2",
    )


def test_the_spread_of_a_stage_is_that_of_many_amps() -> None:
    text = "R1 p 0 {r1}\nR2 k 0 {r2}\nR3 p 0 {r3}\nRg g 0 1Meg\nX1 p g k none mu={mu} rp={rp}"
    usual = {"r1": 100e3, "r2": 1500.0, "r3": 220e3, "mu": 100.0, "rp": 62.5e3}
    sd, most = gain_spread(stage(text.format(**usual), "g", "p"), 1000.0)
    random = np.random.default_rng(20)
    gains: list[float] = []
    for _ in range(1500):
        parts = {n: usual[n] * random.uniform(0.9, 1.1) for n in ("r1", "r2", "r3")}
        parts["mu"] = usual["mu"] * np.exp(random.normal(0.0, assumed()["mu"].value))
        parts["rp"] = usual["rp"] * np.exp(random.normal(0.0, assumed()["emission"].value))
        # a valve of more emission has its gm and 1/rp larger; one of more mu its gm alone
        gains.append(stage(text.format(**parts), "g", "p").gain_db(1000.0))
    assert sd == pytest.approx(float(np.std(gains)), rel=0.08)
    assert most


def test_a_pair_with_equal_plates_is_balanced_by_a_long_tail_only() -> None:
    text = (
        "X1 a g k none mu=100 rp=60k\nX2 b 0 k none mu=100 rp=60k\nR1 a 0 100k\nR2 b 0 100k\n"
        "R3 k 0 {tail}\nR4 g 0 1Meg"
    )
    short, long = (
        balance(text.format(tail=tail), "g", "a", "b", [1000.0]) for tail in ("1k", "1Meg")
    )
    assert short.apart_db[0] > 5.0
    assert long.apart_db[0] == pytest.approx(0.0, abs=0.02)
    assert short.left_over[0] > 0.5


def test_a_plot_has_the_line_the_points_and_the_band() -> None:
    hz = spaced(20.0, 20_000.0, 10)
    measured = STAGE.response_db(HZ)
    measured[2] = np.nan
    spec = response_spec(
        [curve("as drawn", hz, STAGE.response_db(hz)), curve("measured", HZ, measured, "points")],
        title="driver",
        describes="Gain of the driver",
        tolerance_db=2.0,
    )
    assert json.loads(json.dumps(spec, allow_nan=False)) == spec
    marks = [layer["mark"]["type"] for layer in spec["layer"]]
    assert marks == ["area", "line", "point"]
    series = [row["series"] for row in spec["data"]["values"]]
    assert (series.count("as drawn"), series.count("measured")) == (len(hz), len(HZ) - 1)
    assert spec["layer"][1]["encoding"]["x"]["scale"]["type"] == "log"
    band = spec["layer"][0]["data"]["values"][0]
    assert band["high"] - band["low"] == pytest.approx(4.0)


def test_a_plot_is_drawn_by_the_renderer() -> None:
    convert = pytest.importorskip("vl_convert")
    hz = spaced(20.0, 20_000.0, 10)
    spec = response_spec([curve("as drawn", hz, STAGE.response_db(hz))], width=400)
    assert "<svg" in convert.vegalite_to_svg(spec)


def test_a_plot_of_nothing_is_empty_and_unlike_lengths_are_refused() -> None:
    assert response_spec([])["data"]["values"] == []
    with pytest.raises(ValueError, match="3 frequencies and 2 levels"):
        curve("x", [1, 2, 3], [1, 2])


def test_a_band_runs_from_low_to_high() -> None:
    assert spaced(10.0, 1000.0, 10)[[0, -1]] == pytest.approx([10.0, 1000.0])
    assert len(spaced(10.0, 1000.0, 10)) == 21
    with pytest.raises(ValueError, match="from a lower to a higher"):
        spaced(100.0, 10.0)
