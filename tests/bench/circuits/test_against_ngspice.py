"""Every kind of stage against ngspice: 0.01 dB and 0.1 degree from 10 Hz to 100 kHz."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from endbell.bench.circuits.find import circuits, find_circuit
from endbell.bench.circuits.inverter import balance
from endbell.bench.circuits.netlist import parse
from endbell.bench.circuits.response import Stage, decibels, of_drawing, stage
from endbell.bench.components.pots import share_at

from .spice import alternating, needs_ngspice

pytestmark = needs_ngspice

DB = 0.01

TONE_STACK = """
Rs    in a 38k
C1    a  t 250p
P1    t  out m 250k law=log-10 at=0.6
R1    a  b 100k
C2    b  m 100n
C3    b  n 47n
P2    m  n n 250k law=log-10 at=0.4
P3    n  0 0 10k law=linear at=0.5
Rload out 0 1Meg
"""
COMMON_CATHODE = """
VB B 0 300
R1 B p 100k
R2 k 0 1k5
C1 k 0 25u
R3 g 0 1Meg
X1 p g k 12AX7
Cgp g p 1.7p
C2 p out 22n
R4 out 0 470k
"""
FOLLOWER = """
VB B 0 300
R1 B p 100k
R2 k 0 820
C1 k 0 680n
R3 g 0 1Meg
X1 p g k 12AX7
X2 B p out 12AX7
R4 out 0 100k
C2 out 0 1n
"""
LONG_TAIL = """
VB B 0 320
C1 in g1 22n
R1 B p1 82k
R2 B p2 100k
X1 p1 g1 k 12AX7
X2 p2 g2 k 12AX7
R3 k t 470
R4 t f 10k
R5 f 0 4k7
R6 g1 t 1Meg
R7 g2 t 1Meg
C2 g2 f 100n
C3 p1 a 22n
R8 a 0 220k
C4 p2 e 22n
R9 e 0 220k
"""
CATHODYNE = """
VB B 0 250
C1 in g 22n
R1 g t 1Meg
R2 B a 56k
X1 a g k 12AX7
R3 k t 1k5
R4 t 0 56k
"""
# leakage 0.4 %, copper, winding capacitance, a loudspeaker's coil as load
TRANSFORMER = """
Rs   in p 2k
Rp   p  a 300
Lp   a  0 20
Ls   s  0 20m
K1   Lp Ls 0.998
Cw   a  0 800p
Rcu  s  o 0.5
Rl   o  x 6.4
Ll   x  0 0.6m
"""
# a pentode into a transformer with a tapped secondary: three coils, one coupling
OUTPUT_STAGE = """
VB B  0 301
VS h  0 296
R1 g  0 220k
X1 p  s g k 6V6GT
R2 h  s 100
R3 k  0 470
C1 k  0 25u
Rw B  w 350
Lp w  p 12
L4 t4 0 9.6m
L8 t8 t4 1.65m
K1 Lp L4 L8 0.9985
R4 t4 0 4
R8 t8 0 1k
"""
FEEDBACK = """
E1 out 0 in m -40
G1 m 0 out 0 0.1m
R1 m 0 2k2
C1 m 0 10n
R2 out 0 10k
R3 in 0 1Meg
"""

CASES = {
    "tone stack": (TONE_STACK, "in", "out"),
    "common cathode": (COMMON_CATHODE, "g", "out"),
    "follower": (FOLLOWER, "g", "out"),
    "long tail": (LONG_TAIL, "in", "a"),
    "long tail, other half": (LONG_TAIL, "in", "e"),
    "cathodyne, plate": (CATHODYNE, "in", "a"),
    "cathodyne, cathode": (CATHODYNE, "in", "t"),
    "transformer": (TRANSFORMER, "in", "o"),
    "output stage": (OUTPUT_STAGE, "g", "t8"),
    "controlled sources": (FEEDBACK, "in", "out"),
}


def shares(text: str) -> dict[str, float]:
    return {pot.name: share_at(pot.law, pot.at) for pot in parse(text).pots}


def held(of: Stage, text: str, source: str, out: str, folder: Path) -> None:
    hz, theirs = alternating(text, source, (out,), folder, shares(text))
    assert (hz[0], hz[-1]) == pytest.approx((10.0, 100_000.0))
    ours = of.transfer(hz)
    assert np.max(np.abs(decibels(ours) - decibels(theirs[out]))) <= DB
    turned = np.degrees(np.angle(ours / theirs[out]))
    assert np.max(np.abs(turned)) <= 0.1


@pytest.mark.parametrize("case", CASES)
def test_a_stage_answers_as_in_ngspice(case: str, tmp_path: Path) -> None:
    text, source, out = CASES[case]
    held(stage(text, source, out), text, source, out, tmp_path)


@pytest.mark.parametrize(
    ("model", "name"),
    [
        (model, drawing.id)
        for pack, model in circuits()
        if pack == "brackwater"
        for drawing in find_circuit(pack, model).stages
    ],
)
def test_every_stage_that_is_drawn_answers_as_in_ngspice(
    model: str, name: str, tmp_path: Path
) -> None:
    circuit = find_circuit("brackwater", model)
    drawing = next(d for d in circuit.stages if d.id == name)
    held(
        of_drawing(drawing),
        drawing.netlist,
        drawing.source_node.lower(),
        drawing.out_node.lower(),
        tmp_path,
    )


def test_the_halves_of_an_inverter_are_as_alike_as_in_ngspice(tmp_path: Path) -> None:
    hz, theirs = alternating(LONG_TAIL, "in", ("a", "e"), tmp_path)
    found = balance(LONG_TAIL, "in", "a", "e", hz)
    apart = decibels(theirs["a"]) - decibels(theirs["e"])
    assert np.max(np.abs(found.apart_db - apart)) <= DB
    assert np.max(np.abs(apart)) > 0.1  # unlike loads, so that there is something to see


@pytest.mark.parametrize("at", [0.0, 0.25, 1.0])
def test_a_turned_pot_answers_as_in_ngspice(at: float, tmp_path: Path) -> None:
    of = stage(TONE_STACK, "in", "out", {"p1": at, "P2": 1.0 - at})
    track = shares(TONE_STACK) | {
        "P1": share_at("log-10", at),
        "P2": share_at("log-10", 1.0 - at),
    }
    hz, theirs = alternating(TONE_STACK, "in", ("out",), tmp_path, track)
    assert np.max(np.abs(of.response_db(hz) - decibels(theirs["out"]))) <= DB
