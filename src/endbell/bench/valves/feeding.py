"""The supply of a circuit as drawn, solved for the current that is really drawn from it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from ..circuit import Capacitor, Rail
from ..readings import Bench
from ..safety.standing import mains_of, tap_of
from .given import first_rails, mains_share, rail_now
from .models import UnknownValve
from .rectifier import Rectifier, rectifier
from .supply import NoSupply, Section, Supplied, Winding, capacitor_input, source_ohm


@dataclass(frozen=True, slots=True)
class Fed:
    """A supply worked out: its rails in the order of the filter, with the smallest capacitors
    that their tolerances allow, and the current it was worked out for (A)."""

    rails: tuple[str, ...]
    nominal: Supplied
    weakest: Supplied
    amp: float


def fed(bench: Bench, amp: float) -> Fed | None:
    """The supply drawn on by ``amp`` A in all; None where the circuit says too little of it or
    has a choke first."""
    circuit = bench.circuit
    first = next(iter(first_rails(bench)), None)
    hv = next((w for w in circuit.windings if w.use == "hv" and w.volts), None)
    if first is None or hv is None or not hv.volts or hv.dc_ohm is None or amp <= 0.0:
        return None
    if circuit.input == "choke" or not circuit.rectifier:
        return None
    chain = _chain(circuit.rails, first)
    caps = [_capacitors(circuit.capacitors, rail.id) for rail in chain]
    if not caps[0]:
        return None
    winding = _winding(bench, hv.volts, hv.dc_ohm)
    sections: list[Section] = []
    for rail, held in zip(chain[1:], caps[1:], strict=True):
        if rail.through_ohm is None or not held:
            break
        sections.append(Section(rail.through_ohm, sum(c.farad for c in held)))
    least = [s.farad * (1.0 - c[0].tolerance) for s, c in zip(sections, caps[1:], strict=False)]
    small = [Section(s.ohm, f) for s, f in zip(sections, least, strict=True)]
    farad = sum(c.farad for c in caps[0])
    weak = sum(c.farad * (1.0 - c.tolerance) for c in caps[0])
    try:
        through = rectifier(circuit.rectifier)
        return Fed(
            tuple(rail.id for rail in chain[: len(sections) + 1]),
            _solved(winding, through, farad, amp, tuple(sections)),
            _solved(winding, through, weak, amp, tuple(small)),
            amp,
        )
    except (NoSupply, UnknownValve):
        return None


@lru_cache(maxsize=64)
def _solved(
    winding: Winding, through: Rectifier, farad: float, amp: float, sections: tuple[Section, ...]
) -> Supplied:
    """Kept, because a sheet is worked out several times over."""
    return capacitor_input(winding, through, farad, amp, sections)


def drawn_amp(bench: Bench, plates: dict[str, float]) -> float | None:
    """What the first rail gives: the plate currents known on it, and what flows on through the
    resistor to each next rail."""
    first = next(iter(first_rails(bench)), None)
    if first is None:
        return None
    on_it = [seat.at for seat in bench.circuit.seats if seat.rail == first.id]
    if not on_it or any(at not in plates for at in on_it):
        return None
    total = sum(plates[at] for at in on_it)
    here = rail_now(bench, first.id)
    for rail in bench.circuit.rails:
        after = rail_now(bench, rail.id)
        if rail.fed_from == first.id and rail.through_ohm and here and after:
            total += max(here.value - after.value, 0.0) / rail.through_ohm
    return total


def _winding(bench: Bench, volts: float, ohm: float) -> Winding:
    circuit = bench.circuit
    mains = mains_of(bench)
    tap = tap_of(bench, mains)
    half = 0.5 if circuit.supply == "full-wave" else 1.0
    primary = next((w for w in circuit.windings if w.part == "pt" and w.use == "primary"), None)
    of_primary = primary.dc_ohm if primary is not None and primary.dc_ohm is not None else 0.0
    ratio = volts * half / tap.volts if tap is not None else 0.0
    return Winding(
        volts * half * (mains_share(bench) or 1.0),
        source_ohm(ohm * half, of_primary, ratio),
        mains.hertz,
        circuit.supply,
    )


def _chain(rails: tuple[Rail, ...], first: Rail) -> list[Rail]:
    out = [first]
    while True:
        following = next((r for r in rails if r.fed_from == out[-1].id and r not in out), None)
        if following is None:
            return out
        out.append(following)


def _capacitors(capacitors: tuple[Capacitor, ...], rail: str) -> list[Capacitor]:
    return [c for c in capacitors if c.use == "filter" and c.rail == rail]
