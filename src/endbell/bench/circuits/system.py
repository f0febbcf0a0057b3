"""A netlist as the equations of modified nodal analysis: ``(G + s C) x = b``.

Ho, Ruehli and Brennan, 'The modified nodal approach to network analysis', IEEE Trans. Circuits and
Systems CAS-22 (6), 1975 (from memory).  Unknowns are the voltages of the nodes (V) and the currents
of the cards whose current no voltage gives: V, E and L (A, from the first node through the card to
the second).  ``G`` and ``C`` are real and do not depend on frequency, so that all frequencies are
solved as one stack.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import cos, radians, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from ..components.pots import share_at
from .cards import Netlist, NetlistError, Part, Pot
from .ties import check_loops, check_tied

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

# What is left of a pot's track at its end stop, as a share of the whole: a wiper never quite
# reaches the lug, and a resistor of 0 ohm has no conductance to write down.
END_RESIDUE = 1e-6


@dataclass(frozen=True, slots=True)
class Slopes:
    """What a small signal sees of a valve: siemens, each current by each voltage.

    ``gm``, ``gp``, ``gs``: plate current by grid, plate and screen; ``screen_gm``, ``screen_gs``:
    screen current by grid and screen.
    """

    gm: float
    gp: float
    gs: float = 0.0
    screen_gm: float = 0.0
    screen_gs: float = 0.0


@dataclass(frozen=True, slots=True)
class System:
    """The equations. ``names``: of the unknowns, nodes first, then cards; ``nodes``: how many of
    them are nodes.  ``source``: right side for small signals, ``direct``: for DC."""

    names: tuple[str, ...]
    nodes: int
    g: Floats
    c: Floats
    source: Complexes
    direct: Floats

    def index(self, name: str) -> int:
        """Place of a node or of a card's current; -1 for the ground."""
        return -1 if name == "0" else self.names.index(name)


def resistors(netlist: Netlist) -> tuple[Part, ...]:
    """Every resistance there is, pots as their two halves."""
    own = [part for part in netlist.parts if part.kind == "R"]
    return (*own, *(half for pot in netlist.pots for half in halves(pot)))


def halves(pot: Pot) -> tuple[Part, Part]:
    """The two resistances of a pot: start to wiper, wiper to end."""
    lower = share_at(pot.law, pot.at)
    start, wiper, end = pot.nodes
    return (
        Part("R", f"{pot.name}.1", (start, wiper), _left(1.0 - lower) * pot.ohm, pot.line),
        Part("R", f"{pot.name}.2", (wiper, end), _left(lower) * pot.ohm, pot.line),
    )


def _left(share: float) -> float:
    return min(max(share, END_RESIDUE), 1.0)


def assemble(netlist: Netlist, slopes: Mapping[str, Slopes], *, direct: bool = False) -> System:
    """The equations of a netlist with its valves as ``slopes`` (by name; left out: not stamped).

    ``direct``: for DC, where coils are shorts and capacitors carry nothing: loops of coils are
    refused, floating nodes are not (the caller leaks them).  :class:`NetlistError` names a node
    that floats and cards that fix one voltage twice.
    """
    check_loops(netlist, direct)
    if not direct:
        check_tied(netlist)
    carried = [part for part in netlist.parts if part.kind in "VEL"]
    names = (*netlist.nodes, *(part.name for part in carried))
    place = {name: n for n, name in enumerate(names)}
    size = len(names)
    g, c = np.zeros((size, size)), np.zeros((size, size))
    source, dc = np.zeros(size, complex), np.zeros(size)
    for part in (*(p for p in netlist.parts if p.kind != "R"), *resistors(netlist)):
        at = [place.get(node, -1) for node in part.nodes]
        if part.kind == "R":
            _across(g, at[0], at[1], 1.0 / part.value)
        elif part.kind == "C":
            _across(c, at[0], at[1], part.value)
        elif part.kind == "G":
            controlled(g, at[0], at[1], at[2], at[3], part.value)
        elif part.kind == "I":
            for node, sign in ((at[0], -1.0), (at[1], 1.0)):
                if node >= 0:
                    source[node] += sign * _phasor(part)
                    dc[node] += sign * part.value
        else:
            row = place[part.name]
            _branch(g, at[0], at[1], row)
            if part.kind == "L":
                c[row, row] -= part.value
            elif part.kind == "V":
                source[row], dc[row] = _phasor(part), part.value
            else:
                _add(g, row, at[2], -part.value)
                _add(g, row, at[3], part.value)
    _couple(netlist, place, c)
    stamp_valves(netlist, place, g, slopes)
    return System(names, len(netlist.nodes), g, c, source, dc)


def stamp_valves(
    netlist: Netlist, place: Mapping[str, int], g: Floats, slopes: Mapping[str, Slopes]
) -> None:
    """Write the slopes of the valves into ``g``."""
    for valve in netlist.valves:
        at = slopes.get(valve.name)
        if at is None:
            continue
        plate, screen, grid, cathode = (
            place.get(node, -1) for node in (valve.plate, valve.screen, valve.grid, valve.cathode)
        )
        controlled(g, plate, cathode, grid, cathode, at.gm)
        controlled(g, plate, cathode, plate, cathode, at.gp)
        if valve.pentode:
            controlled(g, plate, cathode, screen, cathode, at.gs)
            controlled(g, screen, cathode, grid, cathode, at.screen_gm)
            controlled(g, screen, cathode, screen, cathode, at.screen_gs)


def controlled(g: Floats, out: int, back: int, plus: int, minus: int, siemens: float) -> None:
    """A current ``siemens (v+ - v-)`` that leaves node ``out`` and returns at ``back``."""
    _add(g, out, plus, siemens)
    _add(g, out, minus, -siemens)
    _add(g, back, plus, -siemens)
    _add(g, back, minus, siemens)


def coil_pairs(netlist: Netlist) -> Iterable[tuple[str, str, float]]:
    """Every pair of coupled coils with its mutual inductance in H: k sqrt(L1 L2)."""
    henry = {part.name: part.value for part in netlist.parts if part.kind == "L"}
    for coupling in netlist.couplings:
        for n, one in enumerate(coupling.coils):
            for other in coupling.coils[n + 1 :]:
                yield one, other, coupling.k * sqrt(henry[one] * henry[other])


def _couple(netlist: Netlist, place: Mapping[str, int], c: Floats) -> None:
    if not netlist.couplings:
        return
    for one, other, mutual in coil_pairs(netlist):
        if one == other:
            raise NetlistError(0, f"{one} coupled with itself", "two coils or more, each once")
        c[place[one], place[other]] -= mutual
        c[place[other], place[one]] -= mutual
    rows = [place[part.name] for part in netlist.parts if part.kind == "L"]
    flux = -c[np.ix_(rows, rows)]
    scale = 1.0 / np.sqrt(np.diag(flux))
    # coils that store less than no energy: three couplings that can't be at once
    if float(np.min(np.linalg.eigvalsh(flux * np.outer(scale, scale)))) < 0.0:
        names = ", ".join(coupling.name for coupling in netlist.couplings)
        found = f"the couplings {names} together give the coils less than no energy"
        raise NetlistError(netlist.couplings[0].line, found, "factors that can be at once")


def _phasor(part: Part) -> complex:
    angle = radians(part.phase)
    return part.ac * complex(cos(angle), sin(angle))


def _across(matrix: Floats, one: int, other: int, value: float) -> None:
    _add(matrix, one, one, value)
    _add(matrix, other, other, value)
    _add(matrix, one, other, -value)
    _add(matrix, other, one, -value)


def _branch(g: Floats, one: int, other: int, row: int) -> None:
    for node, sign in ((one, 1.0), (other, -1.0)):
        _add(g, node, row, sign)
        _add(g, row, node, sign)


def _add(matrix: Floats, row: int, column: int, value: float) -> None:
    if row >= 0 and column >= 0:
        matrix[row, column] += value
