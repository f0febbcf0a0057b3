"""Small signals through a netlist: voltages at all nodes for all frequencies at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .cards import Netlist, NetlistError, Part
from .direct import settled
from .netlist import node_of
from .system import Slopes, System, assemble, resistors

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

_DRIVE = "(DRIVE)"
_SINGULAR = 1e-15  # reciprocal condition of the balanced matrix below which nothing is sure
_BOLTZMANN = 1.380649e-23  # J/K, exact in the SI since 2019


class SingularCircuit(ValueError):
    """The equations have no one answer; the message names what they leave open."""


@dataclass(frozen=True, slots=True)
class Solution:
    """Voltages and currents at each frequency: ``x`` of shape (frequencies, unknowns)."""

    hz: Floats
    system: System
    x: Complexes

    def volts(self, node: str) -> Complexes:
        """Voltage of a node (V against the ground), shape (frequencies,)."""
        at = self.system.index(node)
        return self.x[:, at] if at >= 0 else np.zeros(len(self.hz), complex)

    def amps(self, card: str) -> Complexes:
        """Current of a V, E or L card, from its first node through it to the second."""
        return self.x[:, self.system.index(card.upper())]


def slopes_of(netlist: Netlist) -> Mapping[str, Slopes]:
    """The valves' slopes at the netlist's own bias."""
    return settled(netlist).slopes if netlist.valves else {}


def solve(netlist: Netlist, hz: ArrayLike, slopes: Mapping[str, Slopes] | None = None) -> Solution:
    """Small-signal solution at frequencies ``hz`` (Hz), with the netlist's own AC sources.

    ``slopes``: of the valves, else solved for.  Raises :class:`NetlistError` (a floating node, two
    sources that fight), :class:`SingularCircuit`, :class:`.direct.NotSettled`.
    """
    at = np.atleast_1d(np.asarray(hz, float)).ravel()
    if not np.all(np.isfinite(at)) or not np.all(at >= 0.0):
        raise ValueError("a frequency is a number of Hz, 0 or more")
    system = assemble(netlist, slopes_of(netlist) if slopes is None else slopes)
    return Solution(at, system, solved(system, at, system.source))


def solved(system: System, hz: Floats, right: Complexes) -> Complexes:
    """``(G + j w C) x = right`` for each frequency; right of shape (unknowns,) or (unknowns, k)."""
    turn = np.asarray(2j * np.pi * hz, np.complex128)
    stack = np.asarray(system.g[None] + turn[:, None, None] * system.c[None], np.complex128)
    # rows and columns are brought to like size: ohms beside megohms cost digits otherwise
    row: Floats = 1.0 / np.maximum(np.abs(stack).max(axis=2, keepdims=True), 1e-300)
    column: Floats = 1.0 / np.maximum(np.abs(row * stack).max(axis=1, keepdims=True), 1e-300)
    balanced = np.asarray(row * stack * column, np.complex128)
    columns = right[:, None] if right.ndim == 1 else right
    if len(hz):
        _refuse_singular(system, balanced[len(hz) // 2])
    try:
        x = np.linalg.solve(balanced, np.asarray(row * columns[None], np.complex128))
    except np.linalg.LinAlgError:
        raise SingularCircuit(_open(system, balanced)) from None
    x = np.asarray(x * column.swapaxes(1, 2), np.complex128)
    if not np.all(np.isfinite(x)):
        raise SingularCircuit(_open(system, balanced))
    return x[:, :, 0] if right.ndim == 1 else x


def driven(netlist: Netlist, source: str) -> Netlist:
    """The netlist with a source at node ``source``: its own AC source if it has one, else 1 V."""
    node = node_of(netlist, source)
    if node == "0":
        raise NetlistError(0, "the signal enters at the ground", "another node")
    if any(part.ac for part in netlist.parts):
        return netlist
    parts = list(netlist.parts)
    for n, part in enumerate(parts):
        if part.kind == "V" and part.nodes == (node, "0"):
            parts[n] = replace(part, ac=1.0)
            return replace(netlist, parts=tuple(parts))
    return replace(netlist, parts=(*parts, Part("V", _DRIVE, (node, "0"), 0.0, 0, ac=1.0)))


def silent(netlist: Netlist) -> Netlist:
    """The netlist without signal: voltage sources are shorts, current sources are open."""
    return replace(netlist, parts=tuple(replace(part, ac=0.0) for part in netlist.parts))


def transfer(
    netlist: Netlist,
    source: str,
    out: str,
    hz: ArrayLike,
    slopes: Mapping[str, Slopes] | None = None,
) -> Complexes:
    """Voltage at ``out`` over voltage at ``source``, complex, shape (frequencies,)."""
    node = node_of(netlist, out)
    at = slopes_of(netlist) if slopes is None else slopes
    found = solve(driven(netlist, source), hz, at)
    return found.volts(node) / found.volts(node_of(netlist, source))


def impedance(
    netlist: Netlist,
    node: str,
    hz: ArrayLike,
    slopes: Mapping[str, Slopes] | None = None,
    other: str = "0",
) -> Complexes:
    """Impedance (ohm) seen into ``node`` against ``other``, sources silent, shape (frequencies,).

    A stage's output impedance with its source shorted: give the netlist through :func:`driven`
    first.  Its input impedance: the netlist as drawn, at the node the signal enters.
    """
    ends = (node_of(netlist, other), node_of(netlist, node))
    at = slopes_of(netlist) if slopes is None else slopes
    probe = Part("I", "(PROBE)", ends, 0.0, 0, ac=1.0)
    quiet = silent(netlist)
    found = solve(replace(quiet, parts=(*quiet.parts, probe)), hz, at)
    return found.volts(ends[1]) - found.volts(ends[0])


def noise(
    netlist: Netlist,
    out: str,
    hz: ArrayLike,
    slopes: Mapping[str, Slopes] | None = None,
    kelvin: float = 300.15,
) -> Floats:
    """Thermal noise of all resistors at ``out``, V per root Hz, shape (frequencies,).

    Each resistor is a current of ``4 k T / R`` A^2/Hz across itself (Johnson, Nyquist 1928); what
    they do at the output is read off one solution of the transposed equations.
    """
    at = np.atleast_1d(np.asarray(hz, float)).ravel()
    system = assemble(netlist, slopes_of(netlist) if slopes is None else slopes)
    turned = replace(system, g=system.g.T, c=system.c.T)
    unit = np.zeros(len(system.names), complex)
    unit[system.index(node_of(netlist, out))] = 1.0
    reach = solved(turned, at, unit)
    padded = np.concatenate((reach, np.zeros((len(at), 1))), axis=1)  # the ground, at -1
    power = np.zeros(len(at))
    for part in resistors(netlist):
        one, other = (system.index(node) for node in part.nodes)
        across = np.abs(padded[:, one] - padded[:, other]) ** 2
        power += across * 4.0 * _BOLTZMANN * kelvin / part.value
    return np.sqrt(power)


def _refuse_singular(system: System, matrix: Complexes) -> None:
    values = np.linalg.svd(matrix, compute_uv=False)
    if not values[-1] > _SINGULAR * values[0]:
        raise SingularCircuit(_open(system, matrix[None]))


def _open(system: System, stack: Complexes) -> str:
    worst = stack[len(stack) // 2]
    _u, _s, v = np.linalg.svd(worst)
    loose = int(np.argmax(np.abs(v[-1])))
    what = "voltage of node" if loose < system.nodes else "current through"
    return (
        f'the circuit leaves the {what} "{system.names[loose].lower()}" open: no part or two '
        "sources say what it is"
    )
