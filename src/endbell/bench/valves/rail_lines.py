"""Lines of the heaters, the rails and their ripple."""

from __future__ import annotations

from ..circuit import Rail, Winding
from ..limits import bounds_for
from ..lines import Bound, Judgement, Line
from ..readings import Bench
from ..safety.standing import practice
from ..telling import against, shown, tell
from .feeding import Fed
from .given import coverage, mains_share, mains_told, read

_HEATERS = (2.5, 5.0, 6.3, 12.6)


def heater_lines(bench: Bench) -> tuple[Line, ...]:
    """Every heater winding: drawn, or read without being drawn."""
    drawn = {w.id: w for w in bench.circuit.windings if "heater" in w.use}
    places = dict.fromkeys((*drawn, *bench.places("heater-volts")))
    return tuple(_heater(bench, at, drawn.get(at)) for at in places)


def _heater(bench: Bench, at: str, winding: Winding | None) -> Line:
    value = bench.value("heater-volts", at)
    about = winding.volts if winding is not None and winding.volts else value
    nominal = min(_HEATERS, key=lambda volts: abs(volts - about)) if about else None
    bounds: tuple[Bound, ...] = ()
    if nominal is not None and about and abs(about - nominal) < 0.25 * nominal:
        bounds = bounds_for("heater-volts", practice(bench), f"{nominal:g}")
    if value is None:
        says = f"Measure the heater winding {at}: {shown(nominal, 'V') if nominal else 'as drawn'}."
    else:
        says = f"{shown(value, 'V')} on the heater winding {at}, {against(value, bounds, 'V')}"
        says += f"; {mains_told(bench)}."
    return tell(
        bench,
        "heater-volts",
        at=at,
        value=value,
        bounds=bounds,
        expected=nominal,
        says=says,
        readings=(bench.reading("heater-volts", at),),
    )


def rail_lines(bench: Bench, supply: Fed | None) -> tuple[Line, ...]:
    """Every rail and its ripple: drawn, or read without being drawn."""
    drawn = {rail.id: rail for rail in bench.circuit.rails}
    out: list[Line] = []
    for at in dict.fromkeys((*drawn, *bench.places("rail-volts"), *bench.places("ripple"))):
        rail = drawn.get(at)
        if rail is not None or bench.reading("rail-volts", at) is not None:
            out.append(_rail(bench, at, rail, supply))
        ripple = bench.reading("ripple", at) is not None
        asked = rail is not None and (
            rail.ripple is not None or (not rail.fed_from and rail.volts > 0.0)
        )
        if ripple or asked:
            out.append(_ripple(bench, at, rail, supply))
    return tuple(out)


def _rail(bench: Bench, at: str, rail: Rail | None, supply: Fed | None) -> Line:
    value = bench.value("rail-volts", at)
    taken = read(bench, "rail-volts", at)
    reading = bench.reading("rail-volts", at)
    if rail is None:
        return tell(
            bench,
            "rail-volts",
            at=at,
            value=value,
            says=f"The circuit has no rail called {at}: there is nothing to hold it against.",
            readings=(reading,),
        )
    share = mains_share(bench)
    centre = rail.volts * (share or 1.0)
    half = abs(centre) * rail.tolerance + coverage() * (taken.sd if taken else 0.0)
    title = f"the drawing's {shown(rail.volts, 'V')} ± {rail.tolerance:.0%}"
    title += ", at today's mains" if share is not None else ""
    bound = Bound(
        centre - half, centre + half, title, bench.circuit.source, bench.circuit.confidence
    )
    judgement: Judgement | None = None
    works = "the drawing's figure times the mains over the tap" if share else "as drawn"
    if supply is not None and at == supply.rails[0]:
        found = supply.nominal.rails[0].volts
        works += f"; winding and rectifier give {shown(found, 'V')} at {shown(supply.amp, 'A')}"
    if value is None:
        says = f"Measure the rail {at}: about {shown(centre, 'V')}."
    elif value * rail.volts < 0.0 and abs(value) > 0.05 * abs(rail.volts):
        judgement = Judgement.IMPOSSIBLE
        sign = "positive" if rail.volts > 0.0 else "negative"
        says = (
            f"{shown(value, 'V')} on the rail {at} cannot be: it is {sign} against the chassis. "
            "Were the probes swapped? Black goes to the chassis."
        )
    else:
        says = f"{shown(value, 'V')} on the rail {at}, {against(value, (bound,), 'V')}"
        says += f"; {mains_told(bench)}."
    return tell(
        bench,
        "rail-volts",
        at=at,
        value=value,
        judgement=judgement,
        bounds=() if judgement is Judgement.IMPOSSIBLE else (bound,),
        expected=centre,
        says=says,
        works=works,
        readings=(reading, bench.reading("mains-volts")),
    )


def _ripple(bench: Bench, at: str, rail: Rail | None, supply: Fed | None) -> Line:
    value = bench.value("ripple", at)
    taken = read(bench, "ripple", at)
    slack = coverage() * (taken.sd if taken else 0.0)
    bounds: tuple[Bound, ...] = ()
    works = ""
    if rail is not None and rail.ripple is not None:
        title = f"the drawing's {shown(rail.ripple, 'V')}, the most that is usual"
        circuit = bench.circuit
        bounds = (Bound(None, rail.ripple + slack, title, circuit.source, circuit.confidence),)
    elif supply is not None and at in supply.rails:
        place = supply.rails.index(at)
        good, weak = supply.nominal.rails[place], supply.weakest.rails[place]
        title = f"{shown(weak.ripple, 'V')} with the smallest capacitors in tolerance"
        source = "this circuit's supply solved in the time domain"
        bounds = (Bound(None, weak.ripple + slack, title, source, "computed"),)
        works = f"nominal capacitors give {shown(good.ripple, 'V')} at {shown(supply.amp, 'A')}"
    if value is None:
        says = f"Measure the ripple on {at}, the meter on AC."
    else:
        says = f"{shown(value, 'V')} of ripple on {at}, {against(value, bounds, 'V')}."
    return tell(
        bench,
        "ripple",
        at=at,
        value=value,
        bounds=bounds,
        says=says,
        works=works,
        readings=(bench.reading("ripple", at),),
    )
