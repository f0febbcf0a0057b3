"""Lines of the voltages at a valve's electrodes."""

from __future__ import annotations

from ..circuit import Seat
from ..limits import bounds_for
from ..lines import Bound, Judgement, Line
from ..readings import Bench
from ..safety.standing import practice
from ..telling import against, cannot_be, shown, tell, usable
from .expecting import expected, spreads_of
from .given import CLEARLY, read
from .koren import Pentode
from .models import has_model, model
from .ratings import rating

_LINES = {
    "grid": "grid-volts",
    "cathode": "cathode-volts",
    "plate": "plate-volts",
    "screen": "screen-volts",
}


def electrode_lines(bench: Bench, seat: Seat) -> tuple[Line, ...]:
    """The voltages of a seat that its circuit asks for or that were read."""
    spreads = spreads_of(bench, seat, by_model=seat.plate is None)
    out: list[Line] = []
    for electrode, line in _LINES.items():
        value = bench.value(line, seat.at)
        if value is None and not _asked(seat, electrode):
            continue
        taken = read(bench, line, seat.at)
        sd = taken.sd if taken is not None else 0.0
        right = expected(bench, seat, electrode, spreads, sd)
        bounds: tuple[Bound, ...] = () if right is None else (right.bound,)
        if electrode == "grid" and seat.bias == "cathode" and not seat.grid:
            bounds = bounds_for("grid-volts", practice(bench), "cathode")
        centre = None if right is None else right.value
        judgement, says = _said(bench, seat, electrode, value, bounds, centre)
        out.append(
            tell(
                bench,
                line,
                at=seat.at,
                value=value,
                judgement=judgement,
                bounds=() if judgement is Judgement.IMPOSSIBLE else bounds,
                expected=centre,
                spread=None if right is None else right.sd,
                says=says,
                works="" if right is None else right.works,
                readings=(bench.reading(line, seat.at), bench.reading("rail-volts", seat.rail)),
            )
        )
    return tuple(out)


def unknown_seats(bench: Bench) -> tuple[Line, ...]:
    """Readings at valves that the circuit does not have: shown, held against nothing."""
    known = {seat.at for seat in bench.circuit.seats}
    return tuple(
        tell(
            bench,
            line,
            at=at,
            value=bench.value(line, at),
            says=f"The circuit has no valve {at}: there is nothing to hold it against.",
            readings=(bench.reading(line, at),),
        )
        for line in _LINES.values()
        for at in bench.places(line)
        if at not in known and bench.reading(line, at) is not None
    )


def _asked(seat: Seat, electrode: str) -> bool:
    """Whether the circuit asks for a voltage: a pentode's screen, a cathode that is not at the
    chassis, the bias of an output valve."""
    if electrode == "plate":
        return True
    if electrode == "cathode":
        return bool(seat.cathode_ohm) or bool(seat.cathode)
    if electrode == "screen":
        of_model = has_model(seat.type) and isinstance(model(seat.type).valve, Pentode)
        return seat.screen is not None or of_model
    return seat.bias == "fixed" or seat.use == "output" or bool(seat.grid)


def _said(
    bench: Bench,
    seat: Seat,
    electrode: str,
    value: float | None,
    bounds: tuple[Bound, ...],
    centre: float | None,
) -> tuple[Judgement | None, str]:
    name = f"the {electrode} of {seat.at} ({seat.type})"
    if value is None:
        about = "" if centre is None else f": about {shown(centre, 'V')} is right"
        return None, f"Measure {name}{about}."
    if cannot_be(bench.kinds[_LINES[electrode]], value):
        return None, ""
    odd = _impossible(bench, seat, electrode, value, centre)
    if odd:
        return Judgement.IMPOSSIBLE, odd
    says = f"{shown(value, 'V')} on {name}, {against(value, bounds, 'V')}"
    return None, f"{says}{_over_rating(bench, seat, electrode, value)}."


def _impossible(
    bench: Bench, seat: Seat, electrode: str, value: float, centre: float | None
) -> str:
    if electrode == "grid" and centre is not None and centre < -CLEARLY and value > CLEARLY:
        return (
            f"{shown(value, 'V')} on the grid of {seat.at} cannot be while it is biased to "
            f"{shown(centre, 'V')}: were the probes swapped? Black goes to the chassis."
        )
    cathode = usable(bench, "cathode-volts", seat.at)
    if electrode == "plate" and cathode is not None and 0.0 <= value < cathode:
        return (
            f"{shown(value, 'V')} on the plate of {seat.at} with {shown(cathode, 'V')} on its "
            "cathode cannot be: no current flows that way. Read it again, at the plate's own pin."
        )
    rail = read(bench, "rail-volts", seat.rail)
    if electrode in ("plate", "screen") and rail is not None and rail.value > 0.0:
        slack = 3.0 * (rail.sd**2 + (0.01 * value) ** 2) ** 0.5 + 1.0
        # a screen may hang on a rail of its own
        if value > rail.value + slack and electrode == "plate":
            return (
                f"{shown(value, 'V')} on the plate of {seat.at} is more than the "
                f"{shown(rail.value, 'V')} of the rail that feeds it: read both again, one after "
                "the other, without signal."
            )
    return ""


def _over_rating(bench: Bench, seat: Seat, electrode: str, value: float) -> str:
    """What has to be said where a voltage is above the valve's rating: many amps were drawn so."""
    found = rating(seat.type)
    limit = {"plate": "plate_volts", "screen": "screen_volts"}.get(electrode)
    figure = None if found is None or limit is None else getattr(found, limit)
    cathode = usable(bench, "cathode-volts", seat.at) or 0.0
    if found is None or figure is None or value - cathode <= figure.value:
        return ""
    return (
        f"; that is above the {shown(figure.value, 'V')} of the valve's {found.system.title} "
        f"rating ({figure.confidence}), as many amps were drawn"
    )
