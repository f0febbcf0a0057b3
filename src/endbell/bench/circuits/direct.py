"""Where the valves of a netlist settle: its DC solution, by Newton's method on the nodal equations.

Capacitors carry nothing, coils are shorts, grids draw no current (as in :mod:`..valves.koren`).
The small-signal slopes of each valve follow at its own bias.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from ..valves.koren import Flow, Pentode, Valve, flow
from ..valves.models import model
from .cards import Netlist, NetlistError, ValveCard
from .system import Slopes, System, assemble, stamp_valves

Floats = NDArray[np.float64]

# Conductance from every node to the ground: what lies between two capacitors has to be somewhere.
_LEAK = 1e-15
_STEP = 30.0  # V a node may move in one step; Newton's first steps go far astray otherwise
_ROUNDS = 200
_CLOSE = 1e-9  # V
_CUT_OFF = 1e-7  # A; below that there is no small signal to speak of


@dataclass(frozen=True, slots=True)
class Bias:
    """Where a valve settled: V against its cathode, A."""

    plate: float
    grid: float
    screen: float
    plate_amp: float
    screen_amp: float


@dataclass(frozen=True, slots=True)
class Direct:
    """A DC solution: ``volts`` by node against the ground, ``bias`` and ``slopes`` by valve."""

    volts: Mapping[str, float]
    bias: Mapping[str, Bias]
    slopes: Mapping[str, Slopes]


class NotSettled(ValueError):
    """No DC solution was found, or a valve does not conduct in it."""


def settled(netlist: Netlist, moved: Mapping[str, Valve] | None = None) -> Direct:
    """The DC solution of a netlist, and the slopes of all its valves.

    A valve whose card gives mu and rp, or its voltages, is taken at its word.  ``moved``:
    parameters in place of the usual ones, by name of the card.  :class:`NotSettled` where a valve
    whose slopes are wanted is cut off; :class:`NetlistError` for loops of sources and coils.
    """
    free = [valve for valve in netlist.valves if not valve.given]
    slopes = {valve.name: _given(valve) for valve in netlist.valves if valve.given}
    if not free:
        return Direct({}, {}, slopes)
    system = assemble(netlist, {n: s for n, s in slopes.items() if _small(netlist, n)}, direct=True)
    models = {v.name: (moved or {}).get(v.name) or model(v.type, v.set).valve for v in free}
    x = _solve(netlist, system, free, models)
    at = {name: float(x[n]) for n, name in enumerate(netlist.nodes)} | {"0": 0.0}
    bias: dict[str, Bias] = {}
    for valve in free:
        found = _flow(valve, models[valve.name], at)
        bias[valve.name] = Bias(
            at[valve.plate] - at[valve.cathode],
            at[valve.grid] - at[valve.cathode],
            at[valve.screen] - at[valve.cathode],
            float(found.plate),
            float(found.screen),
        )
        slopes[valve.name] = _slopes(valve, found)
        if not float(found.plate) > _CUT_OFF:
            raise NotSettled(
                f"{valve.name} ({valve.type}) does not conduct: {at[valve.plate]:.3g} V on its "
                f"plate, {bias[valve.name].grid:.3g} V on its grid against the cathode; is its "
                "rail drawn, as in 'VB B 0 250'?"
            )
    return Direct(at, bias, slopes)


def _small(netlist: Netlist, name: str) -> bool:
    # a valve given at its voltages still draws current we do not know: it is left out of the DC
    valve = next(v for v in netlist.valves if v.name == name)
    return "vp" not in valve.given


def _given(valve: ValveCard) -> Slopes:
    given = valve.given
    if "vp" in given:
        own = model(valve.type, valve.set).valve
        at = flow(own, given["vp"], given["vg"], given.get("vs"))
        if not float(at.plate) > _CUT_OFF:
            found = f"{valve.name} ({valve.type}) does not conduct at the voltages on its card"
            raise NetlistError(valve.line, found, "voltages against the cathode at which it does")
        return _of(at)
    gm = given.get("gm") or given["mu"] / given["rp"]
    rp = given.get("rp") or given["mu"] / gm
    return Slopes(gm, 1.0 / rp)


def _solve(
    netlist: Netlist, system: System, valves: list[ValveCard], models: Mapping[str, Valve]
) -> Floats:
    x = np.zeros(len(system.names))
    # the supplies are turned up in steps where all at once does not settle
    for stairs in ((1.0,), (0.1, 0.3, 0.5, 0.7, 0.85, 1.0), tuple(np.linspace(0.02, 1.0, 50))):
        x = np.zeros(len(system.names))
        for share in stairs:
            found = _newton(netlist, system, valves, models, x, float(share))
            if found is None:
                break
            x = found
        else:
            return x
    raise NotSettled("no DC solution was found: is every valve's cathode led to the ground?")


def _newton(
    netlist: Netlist,
    system: System,
    valves: list[ValveCard],
    models: Mapping[str, Valve],
    start: Floats,
    share: float,
) -> Floats | None:
    place = {name: n for n, name in enumerate(system.names)}
    base = system.g.copy()
    nodes = np.arange(system.nodes)
    base[nodes, nodes] += _LEAK
    x = start.copy()
    for _round in range(_ROUNDS):
        volts = {name: float(x[n]) for n, name in enumerate(netlist.nodes)} | {"0": 0.0}
        jacobian = base.copy()
        rest = base @ x - share * system.direct
        slopes: dict[str, Slopes] = {}
        for valve in valves:
            at = _flow(valve, models[valve.name], volts)
            slopes[valve.name] = _slopes(valve, at)
            for node, amp in ((valve.plate, at.plate), (valve.screen, at.screen)):
                for end, sign in ((node, 1.0), (valve.cathode, -1.0)):
                    if end != "0":
                        rest[place[end]] += sign * float(amp)
        stamp_valves(netlist, place, jacobian, slopes)
        try:
            step = np.linalg.solve(jacobian, -rest)
        except np.linalg.LinAlgError:
            return None
        largest = float(np.max(np.abs(step[: system.nodes])))
        if not isfinite(largest):
            return None
        x = x + step * min(1.0, _STEP / largest if largest else 1.0)
        if largest < _CLOSE:
            return x
    return None


def _flow(valve: ValveCard, parameters: Valve, volts: Mapping[str, float]) -> Flow:
    cathode = volts[valve.cathode]
    screen = volts[valve.screen] - cathode if isinstance(parameters, Pentode) else None
    return flow(parameters, volts[valve.plate] - cathode, volts[valve.grid] - cathode, screen)


def _slopes(valve: ValveCard, at: Flow) -> Slopes:
    if valve.pentode:
        return _of(at)
    return Slopes(float(at.gm), float(at.gp))


def _of(at: Flow) -> Slopes:
    return Slopes(
        float(at.gm), float(at.gp), float(at.gs), float(at.screen_gm), float(at.screen_gs)
    )
