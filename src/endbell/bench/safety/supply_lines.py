"""Lines of the filter capacitors: how long they stay charged, with what, and what they can take."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import isfinite

import numpy as np

from ..circuit import Capacitor, Circuit
from ..facts import facts
from ..limits import bounds_for
from ..lines import Bound, Judgement, Line
from ..readings import Bench
from ..telling import against, named, shown, tell, usable
from .discharge import stored_charge, stored_energy
from .mains import unloaded_peak
from .rails import Array, Rails, bled, groups, rails, time_below, unloaded
from .standing import mains_of, practice, rule, rule_bound, tap_of

_KEPT = {"filter", "bias"}  # uses of capacitors that hold a supply's charge


@dataclass(frozen=True, slots=True)
class Supply:
    """The supply drawn: its network, and what each node can reach at the highest mains.

    ``cold``: V with nothing drawn, ``loaded``: V with the amp working, shape (nodes,).
    ``told``: how ``cold`` came about.
    """

    network: Rails
    cold: Array
    loaded: Array
    told: str


def supply_of(bench: Bench) -> Supply | None:
    """The supply of the circuit at the highest mains; None where no rail is drawn."""
    mains = mains_of(bench)
    tap = tap_of(bench, mains)
    return _supply(bench.circuit, mains.high, tap.volts if tap else None, tap.told if tap else "")


@lru_cache(maxsize=32)  # a sheet is looked at line by line and round by round
def _supply(circuit: Circuit, high: float, tap: float | None, tap_told: str) -> Supply | None:
    names = [rail.id for rail in circuit.rails]
    if not names:
        return None
    network = _network(circuit, names)
    ratio = 1.0 if tap is None else high / tap
    told = f"mains of {shown(high, 'V')}" + (f" with {tap_told}" if tap_told else "")
    loaded = np.zeros(network.farad.size)
    for rail in circuit.rails:
        node = network.node[rail.id]
        loaded[node] = max(loaded[node], abs(rail.volts) * ratio)
    windings = [w.volts for w in circuit.windings if w.part == "pt" and w.use == "hv" and w.volts]
    bias = [w.volts for w in circuit.windings if w.part == "pt" and w.use == "bias" and w.volts]
    fed: dict[str, float] = {}
    for rail in circuit.rails:
        if rail.fed_from in network.node:
            continue
        peak = abs(rail.volts) * ratio
        if rail.volts > 0 and len(windings) == 1 and tap is not None:
            peak = max(peak, unloaded_peak(windings[0], circuit.supply, high, tap))
        elif rail.volts < 0 and len(bias) == 1 and tap is not None:
            peak = max(peak, unloaded_peak(bias[0], "half-wave", high, tap))
        fed[rail.id] = peak
    if len(windings) != 1 or tap is None:
        told += "; the high-voltage winding is not drawn, so the rails' own voltages are taken"
    return Supply(network, np.maximum(unloaded(network, fed), 0.0), loaded, told)


@lru_cache(maxsize=128)
def _seconds(
    circuit: Circuit,
    high: float,
    tap: float | None,
    group: tuple[int, ...],
    target: float,
    tool: float | None,
) -> float:
    """Time until a group is below ``target``, with a tool of that many ohm at its first rail."""
    supply = _supply(circuit, high, tap, "")
    if supply is None:
        return 0.0
    only = np.zeros_like(supply.cold)
    only[list(group)] = supply.cold[list(group)]
    network = supply.network
    if tool is not None:
        siemens = network.siemens.copy()
        siemens[group[0], group[0]] += 1.0 / tool
        network = replace(network, siemens=siemens)
    return time_below(network, only, target)


def _network(circuit: Circuit, names: list[str]) -> Rails:
    farad = dict.fromkeys(names, 0.0)
    for capacitor in circuit.capacitors:
        if capacitor.use in _KEPT and capacitor.rail in farad:
            # the most its tolerance allows: the longest time and the largest energy
            farad[capacitor.rail] += capacitor.farad * (1 + capacitor.tolerance)
    between = [
        (rail.fed_from, rail.id, rail.through_ohm or 0.0)
        for rail in circuit.rails
        if rail.fed_from in farad and rail.fed_from != rail.id
    ]
    bleeders = [(r.bleeds, r.ohm) for r in circuit.resistors if r.bleeds in farad]
    return rails(farad, between, bleeders)


def discharge_lines(bench: Bench) -> tuple[Line, ...]:
    """Time below 60 V and energy of every group of rails that hangs together."""
    supply = supply_of(bench)
    if supply is None:
        return ()
    found: list[Line] = []
    whole = [
        group for group in groups(supply.network) if supply.network.farad[list(group)].sum() > 0
    ]
    whole.sort(key=lambda group: -float(supply.cold[list(group)].max()))
    for n, group in enumerate(whole):
        at = "" if n == 0 else supply.network.names(group[0])[0]
        found += _group_lines(bench, supply, group, at)
    return tuple(found)


def _group_lines(bench: Bench, supply: Supply, group: tuple[int, ...], at: str) -> list[Line]:
    network, index = supply.network, list(group)
    mains = mains_of(bench)
    tap = tap_of(bench, mains)

    def below(target: float, tool: float | None = None) -> float:
        volts = tap.volts if tap else None
        return _seconds(bench.circuit, mains.high, volts, group, target, tool)

    names = [name for node in group for name in network.names(node)]
    touch = rule("touch-safe")
    farad = float(network.farad[index].sum())
    volts = float(supply.cold[index].max())
    joule = sum(
        stored_energy(float(network.farad[node]), float(supply.cold[node])) for node in group
    )
    coulomb = sum(
        stored_charge(float(network.farad[node]), float(supply.cold[node])) for node in group
    )
    seconds = below(touch)
    target = _target(bench)
    tool = usable(bench, "discharge-tool")
    by_tool = "; a discharge tool of known resistance makes it quick"
    if tool is not None:
        by_tool = (
            f"; with the tool of {shown(tool, 'ohm')} at {network.names(group[0])[0]}, "
            f"{shown(below(target, tool), 's')} to {target:g} V"
        )
    told = f"{', '.join(names)}: {shown(farad, 'F')} at up to {shown(volts, 'V')}"
    bounds = bounds_for("discharge-time", practice(bench), "")
    held = not isfinite(seconds) or not bled(network, group)
    if not held:
        says = f"{told} should be below {touch:g} V after {shown(seconds, 's')}"
        if target < touch:
            more = shown(below(target), "s")
            says += f" and below {target:g} V after {more}"
        says += f", if every bleeder is whole: measure all the same{by_tool}."
    else:
        what = "no bleeder is drawn" if not bled(network, group) else "the bleeder is not enough"
        says = f"{told}, {what}: it stays charged, for days{by_tool}. It does not empty itself."
    times = tell(
        bench,
        "discharge-time",
        at=at,
        value=None if held else seconds,
        judgement=Judgement.ODD if held else None,
        bounds=bounds,
        says=says,
        works=f"C·dv/dt = -G·v from the unloaded supply ({supply.told}); t = R·C·ln(V0/V) for one",
        readings=(bench.reading("discharge-tool"), bench.reading("discharge-to")),
    )
    energy = tell(
        bench,
        "stored-energy",
        at=at,
        value=joule,
        judgement=Judgement.NO_LIMIT,
        says=f"{told}: {shown(joule, 'J')}, {shown(coulomb, 'C')}.",
        works=f"sum of C·V²/2, C at the top of its tolerance, V unloaded ({supply.told})",
    )
    return [times, energy]


def _target(bench: Bench) -> float:
    """The voltage that counts as discharged: the shop's own, else the lowest of the limits, V."""
    own = usable(bench, "discharge-to")
    if own is not None:
        return own
    limits = bounds_for("filter-volts-left", practice(bench), "")
    return min([rule("touch-safe"), *(b.high for b in limits if b.high is not None)])


def left_lines(bench: Bench) -> tuple[Line, ...]:
    """The voltage left on every filter capacitor, drawn or measured."""
    own = [c.id for c in bench.circuit.capacitors if c.use in _KEPT]
    extra = [at for at in bench.places("filter-volts-left") if at not in own]
    bounds = bounds_for("filter-volts-left", practice(bench), "")
    return tuple(_left(bench, at, bounds) for at in (*own, *extra))


def _left(bench: Bench, at: str, bounds: tuple[Bound, ...]) -> Line:
    read = bench.value("filter-volts-left", at)
    # the probes either way round: what is left is as dangerous
    value = None if read is None else abs(read)
    if value is None:
        says = f"Measure what is left on {named(at)}: it counts as charged until then."
    else:
        says = f"{shown(value, 'V')} left on {named(at)}, {against(value, bounds, 'V')}."
        if read is not None and read < 0:
            says += " It was read with the probes the other way round."
        if any(b.high is not None and value > b.high for b in bounds):
            says += " Discharge it through the tool and measure again."
    return tell(
        bench,
        "filter-volts-left",
        at=at,
        value=value,
        bounds=bounds,
        says=says,
        readings=(bench.reading("filter-volts-left", at),),
    )


def margin_lines(bench: Bench) -> tuple[Line, ...]:
    """Every capacitor on a rail: its rating against the most the supply can put on it."""
    supply = supply_of(bench)
    if supply is None:
        return ()
    return tuple(
        _margin(bench, supply, capacitor)
        for capacitor in bench.circuit.capacitors
        if capacitor.volts and capacitor.rail in supply.network.node
    )


def _margin(bench: Bench, supply: Supply, capacitor: Capacitor) -> Line:
    node = supply.network.node[capacitor.rail]
    cold, loaded = float(supply.cold[node]), float(supply.loaded[node])
    rated = capacitor.volts or 0.0
    slow, told = _rises(bench.circuit)
    worst = loaded if slow else max(cold, loaded)
    if worst <= 0:
        return tell(
            bench,
            "capacitor-margin",
            at=capacitor.id,
            says=f"{capacitor.id}: what {capacitor.rail} can reach is not known.",
        )
    value = rated / worst
    bounds = (rule_bound("rating-share", rule("rating-share"), None),)
    says = (
        f"{capacitor.id} is rated {shown(rated, 'V')}; {capacitor.rail} can reach "
        f"{shown(worst, 'V')} ({told}): {'enough' if value >= 1 else 'not enough'}."
    )
    if slow and cold > worst and rated < cold:
        says += f" With a valve pulled, or a silicon rectifier, it would see {shown(cold, 'V')}."
    return tell(
        bench,
        "capacitor-margin",
        at=capacitor.id,
        value=value,
        bounds=bounds,
        says=says,
        works=f"rated / highest; √2 · winding · mains / tap, {supply.told}",
    )


def _rises(circuit: Circuit) -> tuple[bool, str]:
    """Whether the supply waits for its valves, and in words why it does or does not."""
    row = next(
        (r for r in facts("safety", "rectifier_warmup") if r["type"] == circuit.rectifier), None
    )
    if row is None:
        return False, "unloaded; the rectifier's warm-up is not known"
    if row["heating"] == "slow":
        return True, f"loaded, as {row['type']} warms up no faster than the other valves"
    return False, f"unloaded, as with {row['type']}: {row['note']}"
