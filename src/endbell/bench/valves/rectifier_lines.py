"""Lines of the rectifier: its first capacitor, what it carries, and the peaks of it."""

from __future__ import annotations

from ..lines import Bound, Judgement, Line
from ..readings import Bench
from ..telling import against, shown, tell, usable
from .feeding import Fed
from .given import first_rails
from .models import UnknownValve
from .ratings import Figure
from .rectifier import Rectifier, rectifier


def rectifier_lines(bench: Bench, supply: Fed | None) -> tuple[Line, ...]:
    """The rectifier of a circuit against its ratings; none for silicon, which has others."""
    name = bench.circuit.rectifier
    try:
        valve = rectifier(name) if name else None
    except UnknownValve:
        return ()
    if valve is None or valve.perveance is None:
        return ()
    seat = next((s.at for s in bench.circuit.seats if s.use == "rectifier"), "")
    return (
        *_reservoir(bench, seat, valve),
        _carried(
            bench,
            "rectifier-current",
            seat,
            None if supply is None else supply.amp,
            valve.most_amp,
            f"what the {valve.title} carries",
        ),
        _carried(
            bench,
            "rectifier-peak",
            seat,
            None if supply is None else supply.nominal.peak_amp,
            valve.peak_amp,
            f"the peaks through each plate of the {valve.title}",
        ),
    )


def _reservoir(bench: Bench, seat: str, valve: Rectifier) -> tuple[Line, ...]:
    first = next(iter(first_rails(bench)), None)
    held = [
        c
        for c in bench.circuit.capacitors
        if c.use == "filter" and first is not None and c.rail == first.id
    ]
    if not held or bench.circuit.input == "choke":
        return ()
    read = {c.id: usable(bench, "capacitor-farad", c.id) for c in held}
    farad = sum(read[c.id] or c.farad for c in held)
    bounds = _bounds(valve.reservoir, valve, "F")
    measured = all(read.values())
    if measured:
        says = f"{shown(farad, 'F')} behind the {valve.title}, {against(farad, bounds, 'F')}."
    else:
        names = " and ".join(c.id for c in held)
        says = f"Measure {names} behind the {valve.title}: {shown(farad, 'F')} as drawn."
    readings = tuple(bench.reading("capacitor-farad", c.id) for c in held if read[c.id])
    return (
        tell(
            bench,
            "rectifier-reservoir",
            at=seat,
            value=farad if measured else None,
            bounds=bounds,
            says=says,
            works="a larger one is charged in shorter, higher peaks",
            readings=readings,
        ),
    )


def _carried(
    bench: Bench, line: str, seat: str, amp: float | None, limit: Figure | None, what: str
) -> Line:
    if amp is None:
        says = f"To know {what}, find the output valves' currents and read the rails."
        return tell(bench, line, at=seat, judgement=Judgement.NOT_MEASURED, says=says)
    bounds = _bounds(limit, rectifier(bench.circuit.rectifier), "A")
    says = f"{shown(amp, 'A')} is {what}, {against(amp, bounds, 'A')}."
    return tell(bench, line, at=seat, value=amp, bounds=bounds, says=says)


def _bounds(limit: Figure | None, valve: Rectifier, unit: str) -> tuple[Bound, ...]:
    if limit is None:
        return ()
    system = "" if valve.system is None else f" ({valve.system.title})"
    title = f"rated {shown(limit.value, unit)}{system}"
    return (Bound(None, limit.value, title, limit.source, limit.confidence),)
