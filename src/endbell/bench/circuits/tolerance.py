"""How far a stage's gain may stray before anything is wrong: parts, valves, all at once.

Each part is moved a little, one after another, and the stage solved again, all as one stack of
equations; the changes are its sensitivities.  Tolerances become standard deviations as in
:mod:`..valves.tolerance`.  A valve strays in two ways at its bias: its emission (gm and 1/rp
together) and its mu (gm alone).  That the bias itself moves with the parts is left out; a cathode
resistor holds it, so that the emission counts for rather too much than too little.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from ..facts import facts
from ..valves.tolerance import assumed, even
from .cards import Netlist
from .mna import driven
from .netlist import node_of
from .response import Stage
from .system import Slopes, assemble

Floats = NDArray[np.float64]

_STEP = 1e-3  # of the part's value


def gain_spread(of: Stage, hz: float) -> tuple[float, str]:
    """One standard deviation of the gain in dB at ``hz``, and the name that contributes most."""
    shares = gain_shares(of, hz)
    if not shares:
        return 0.0, ""
    most = max(shares, key=lambda name: shares[name])
    return sqrt(sum(value * value for value in shares.values())), most


def gain_shares(of: Stage, hz: float) -> Mapping[str, float]:
    """What each part and valve contributes to it, in dB (their squares add up)."""
    live = driven(of.netlist, of.source)
    moves = [*_parts(live, of.slopes), *_valves(live, of.slopes)]
    systems = [assemble(live, of.slopes)]
    systems += [assemble(netlist, slopes) for _, _, netlist, slopes in moves]
    first = systems[0]
    stack = np.array([s.g + 2j * np.pi * hz * s.c for s in systems])
    x = np.linalg.solve(
        stack, np.broadcast_to(first.source[:, None], (len(stack), len(first.names), 1))
    )
    source, out = first.index(node_of(live, of.source)), first.index(node_of(live, of.out))
    if out < 0:
        return {}
    db = 20.0 * np.log10(np.abs(x[:, out, 0] / x[:, source, 0]))
    shares: dict[str, float] = {}
    for n, (name, sd, _, _) in enumerate(moves, start=1):
        shares[name] = abs(float(db[n] - db[0])) / _STEP * sd
    return shares


_Move = tuple[str, float, Netlist, Mapping[str, Slopes]]


def _parts(netlist: Netlist, slopes: Mapping[str, Slopes]) -> list[_Move]:
    usual = {
        "R": assumed()["resistor"].value,
        "C": usual_of("capacitor"),
    }
    out: list[_Move] = []
    for n, part in enumerate(netlist.parts):
        if part.kind not in usual:
            continue
        parts = list(netlist.parts)
        parts[n] = replace(part, value=part.value * (1.0 + _STEP))
        own = part.tolerance if part.tolerance is not None else usual[part.kind]
        out.append((part.name, even(own), replace(netlist, parts=tuple(parts)), slopes))
    for n, pot in enumerate(netlist.pots):
        pots = list(netlist.pots)
        pots[n] = replace(pot, ohm=pot.ohm * (1.0 + _STEP))
        out.append((pot.name, even(usual_of("pot")), replace(netlist, pots=tuple(pots)), slopes))
    return out


@cache
def usual_of(name: str) -> float:
    """A tolerance that is assumed where nothing is said, of ``data/circuits/assumed.csv``."""
    return next(float(row["value"]) for row in facts("circuits", "assumed") if row["id"] == name)


def _valves(netlist: Netlist, slopes: Mapping[str, Slopes]) -> list[_Move]:
    def emission(at: Slopes) -> Slopes:
        more = 1.0 + _STEP
        return Slopes(
            at.gm * more, at.gp * more, at.gs * more, at.screen_gm * more, at.screen_gs * more
        )

    def mu(at: Slopes) -> Slopes:
        return replace(at, gm=at.gm * (1.0 + _STEP))

    # at given voltages every slope goes with the emission
    ways: tuple[tuple[str, float, Callable[[Slopes], Slopes]], ...] = (
        ("emission", assumed()["emission"].value, emission),
        ("mu", assumed()["mu"].value, mu),
    )
    out: list[_Move] = []
    for valve in netlist.valves:
        for word, sd, moved in ways:
            changed = {**slopes, valve.name: moved(slopes[valve.name])}
            out.append((f"{valve.name}'s {word}", sd, netlist, changed))
    return out
