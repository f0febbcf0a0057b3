"""Networks whose transfer functions are written down by hand, evaluated by scipy.signal."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import signal

from endbell.bench.circuits.response import Corners, Stage, corners, decibels, spaced, stage

HZ = spaced(10.0, 100_000.0, 20)
DB = 0.01

RL, RP, MU, RK, CK = 68_750.0, 62_500.0, 100.0, 1500.0, 22e-6


def written(numerator: list[float], denominator: list[float]) -> np.ndarray:
    """b(s)/a(s) at HZ, highest power of s first, as scipy.signal has it."""
    freqs: Any = signal.freqs  # its stubs know no array of frequencies
    return freqs(numerator, denominator, 2.0 * np.pi * HZ)[1]


def alike(of: Stage, numerator: list[float], denominator: list[float]) -> None:
    theirs, ours = written(numerator, denominator), of.transfer(HZ)
    assert np.max(np.abs(decibels(ours) - decibels(theirs))) <= DB
    assert np.max(np.abs(np.degrees(np.angle(ours / theirs)))) <= 0.1


def test_a_capacitor_after_a_resistor() -> None:
    # 1/(1 + sRC)
    alike(stage("R1 in out 10k\nC1 out 0 10n", "in", "out"), [1.0], [1e-4, 1.0])


def test_a_coupling_capacitor_into_a_grid_resistor() -> None:
    # sRC/(1 + sRC)
    tau = 22e-9 * 1e6
    alike(stage("C1 in out 22n\nR1 out 0 1Meg", "in", "out"), [tau, 0.0], [tau, 1.0])


def test_two_sections_load_each_other() -> None:
    # 1/(1 + s (R1 C1 + R1 C2 + R2 C2) + s^2 R1 R2 C1 C2), from the node equations
    r1, r2, c1, c2 = 47e3, 100e3, 1e-9, 470e-12
    of = stage("R1 in a 47k\nC1 a 0 1n\nR2 a out 100k\nC2 out 0 470p", "in", "out")
    alike(of, [1.0], [r1 * r2 * c1 * c2, r1 * c1 + r1 * c2 + r2 * c2, 1.0])


def test_a_bright_capacitor_over_a_volume_pot() -> None:
    # R2 (1 + s R1 C)/(R1 + R2 + s R1 R2 C): the divider with a capacitor over its upper half
    r1, r2, c = 0.9e6, 0.1e6, 120e-12
    of = stage("P1 in out 0 1Meg law=log-10 at=0.5\nC1 in out 120p", "in", "out")
    alike(of, [r1 * r2 * c, r2], [r1 * r2 * c, r1 + r2])


def test_a_resonant_circuit() -> None:
    # R/(R + sL + 1/(sC))
    r, henry, c = 1e3, 0.5, 50e-9
    of = stage("L1 in a 500m\nC1 a out 50n\nR1 out 0 1k", "in", "out")
    alike(of, [r * c, 0.0], [henry * c, r * c, 1.0])


def test_a_cathode_bypass_capacitor_lifts_the_top() -> None:
    # -mu RL / (rp + RL + (mu+1) Rk/(1 + s Rk Ck)), the series circuit of the plate's current
    of = stage(
        f"X1 p g k none mu={MU} rp={RP}\nR1 p 0 {RL}\nR2 k 0 {RK}\nC1 k 0 22u\nR3 g 0 1Meg",
        "g",
        "p",
    )
    tau = RK * CK
    alike(of, [-MU * RL * tau, -MU * RL], [(RP + RL) * tau, RP + RL + (MU + 1.0) * RK])


def test_a_follower_with_a_cable_on_it() -> None:
    # mu Z/(rp + (mu+1) Z), Z = Rk/(1 + s Rk C)
    rk, c = 47e3, 2e-9
    of = stage(f"X1 B g k none mu={MU} rp={RP}\nVB B 0 0\nR2 k 0 {rk}\nC1 k 0 2n", "g", "k")
    alike(of, [MU * rk], [RP * rk * c, RP + (MU + 1.0) * rk])


def test_the_input_capacitance_of_a_stage_is_multiplied_by_its_gain() -> None:
    # one node equation at grid and plate each, source resistance Rs:
    # H = Rp (s C - gm)/(1 + s C (Rs + Rp + gm Rs Rp)), Rp = rp || RL
    rs, c, gm = 68e3, 1.7e-12, MU / RP
    rp = RP * RL / (RP + RL)
    of = stage(f"Rs in g 68k\nC1 g p 1.7p\nX1 p g 0 none mu={MU} rp={RP}\nR1 p 0 {RL}", "in", "p")
    alike(of, [rp * c, -gm * rp], [c * (rs + rp + gm * rs * rp), 1.0])


def test_a_transformer_with_leakage_into_a_load() -> None:
    # Z = [[s L1, s M], [s M, s L2]]: V2/V1 with Rs before it and RL on it
    rs, load, l1, l2, k = 2000.0, 8.0, 20.0, 20e-3, 0.998
    m = k * (l1 * l2) ** 0.5
    of = stage("Rs in p 2k\nL1 p 0 20\nL2 s 0 20m\nK1 L1 L2 0.998\nR1 s 0 8", "in", "s")
    alike(
        of,
        [m * load, 0.0],
        [l1 * l2 - m * m, l1 * load + l2 * rs, rs * load],
    )


# The tone stack of three capacitors, three pots and one resistor: coefficients as printed by
# D. T. Yeh and J. O. Smith, 'Discretization of the … tone stack', Proc. DAFx-06, 2006 (from memory)
def tone_stack(
    c: tuple[float, float, float],
    r: tuple[float, float, float, float],
    low: float,
    m: float,
    t: float,
) -> tuple[list[float], list[float]]:
    c1, c2, c3 = c
    r1, r2, r3, r4 = r
    ccc = c1 * c2 * c3
    b1 = t * c1 * r1 + m * c3 * r3 + low * (c1 * r2 + c2 * r2) + c1 * r3 + c2 * r3
    b2 = (
        t * (c1 * c2 * r1 * r4 + c1 * c3 * r1 * r4)
        - m * m * (c1 * c3 * r3**2 + c2 * c3 * r3**2)
        + m * (c1 * c3 * r1 * r3 + c1 * c3 * r3**2 + c2 * c3 * r3**2)
        + low * (c1 * c2 * r1 * r2 + c1 * c2 * r2 * r4 + c1 * c3 * r2 * r4)
        + low * m * (c1 * c3 * r2 * r3 + c2 * c3 * r2 * r3)
        + c1 * c2 * r1 * r3
        + c1 * c2 * r3 * r4
        + c1 * c3 * r3 * r4
    )
    b3 = ccc * (
        low * m * (r1 * r2 * r3 + r2 * r3 * r4)
        - m * m * (r1 * r3**2 + r3**2 * r4)
        + m * (r1 * r3**2 + r3**2 * r4)
        + t * r1 * r3 * r4
        - t * m * r1 * r3 * r4
        + t * low * r1 * r2 * r4
    )
    a1 = c1 * r1 + c1 * r3 + c2 * r3 + c2 * r4 + c3 * r4 + m * c3 * r3 + low * (c1 * r2 + c2 * r2)
    a2 = (
        m * (c1 * c3 * r1 * r3 - c2 * c3 * r3 * r4 + c1 * c3 * r3**2 + c2 * c3 * r3**2)
        + low * m * (c1 * c3 * r2 * r3 + c2 * c3 * r2 * r3)
        - m * m * (c1 * c3 * r3**2 + c2 * c3 * r3**2)
        + low * (c1 * c2 * r2 * r4 + c1 * c2 * r1 * r2 + c1 * c3 * r2 * r4 + c2 * c3 * r2 * r4)
        + c1 * c2 * r1 * r4
        + c1 * c3 * r1 * r4
        + c1 * c2 * r3 * r4
        + c1 * c2 * r1 * r3
        + c1 * c3 * r3 * r4
        + c2 * c3 * r3 * r4
    )
    a3 = ccc * (
        low * m * (r1 * r2 * r3 + r2 * r3 * r4)
        - m * m * (r1 * r3**2 + r3**2 * r4)
        + m * (r3**2 * r4 + r1 * r3**2 - r1 * r3 * r4)
        + low * r1 * r2 * r4
        + r1 * r3 * r4
    )
    return [b3, b2, b1, 0.0], [a3, a2, a1, 1.0]


@pytest.mark.parametrize(
    ("low", "m", "t"), [(0.5, 0.5, 0.5), (0.1, 0.9, 0.3), (0.9, 0.2, 0.8), (0.02, 0.02, 0.98)]
)
def test_the_tone_stack_of_three_capacitors(low: float, m: float, t: float) -> None:
    text = """
    C1 in t 250p
    P1 t out b 250k at={t}
    R4 in n 56k
    C2 n b 20n
    P2 b d d 1Meg at={low}
    C3 n e 20n
    P3 d e 0 25k at={m}
    """
    # the bass pot is a rheostat: its part in the path is `low` of it; the middle pot's wiper goes
    # to the third capacitor
    of = stage(text.format(t=t, low=1.0 - low, m=m), "in", "out")
    b, a = tone_stack((250e-12, 20e-9, 20e-9), (250e3, 1e6, 25e3, 56e3), low, m, t)
    alike(of, b, a)


def test_the_corners_of_a_stage_are_those_of_its_two_time_constants() -> None:
    # far apart: the gain at 1 kHz is below the full gain by no more than 4 parts in 100,000
    of = stage("C1 in a 100n\nR1 a 0 1Meg\nE1 b 0 a 0 1\nR2 b out 10k\nC2 out 0 100p", "in", "out")
    found = corners(of, 1000.0)
    assert isinstance(found, Corners)
    assert found.low == pytest.approx(1.0 / (2.0 * np.pi * 0.1), rel=1e-4)
    assert found.high == pytest.approx(1.0 / (2.0 * np.pi * 1e-6), rel=1e-4)


def test_a_stage_without_a_corner_in_the_band_has_none() -> None:
    found = corners(stage("R1 in out 1k\nR2 out 0 1k", "in", "out"))
    assert (found.low, found.high) == (None, None)
    assert found.gain_db == pytest.approx(-6.0206, abs=1e-4)
