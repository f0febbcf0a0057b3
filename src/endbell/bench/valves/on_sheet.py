"""The valves on a bench sheet: heaters, rails, electrodes, what they draw and burn, and balance."""

from __future__ import annotations

from ..circuit import Seat
from ..lines import Line
from ..readings import Bench
from ..telling import shown, tell
from .drawing import Drawn, drawn
from .electrode_lines import electrode_lines, unknown_seats
from .feeding import drawn_amp, fed
from .given import at_work, load_of, read
from .idle_lines import balance_line, current_line, dissipation_lines
from .point_line import point_line
from .rail_lines import heater_lines, rail_lines
from .rectifier_lines import rectifier_lines


def lines(bench: Bench) -> tuple[Line, ...]:
    """Every DC line of the sheet, those not measured yet included, in the order of the work:
    discharged (half of the primary), heaters, rails, then valve by valve, output valves first."""
    seats = at_work(bench)
    currents: dict[str, Drawn] = {}
    for seat in seats:
        found = drawn(bench, seat)
        if found is not None:
            currents[seat.at] = found
    amp = drawn_amp(bench, {at: one.plate.value for at, one in currents.items()})
    supply = None if amp is None else fed(bench, amp)
    of_rectifier = rectifier_lines(bench, supply)
    unpowered = [line for line in of_rectifier if not line.stage.powered]
    out: list[Line] = [*_half_primaries(bench), *unpowered, *heater_lines(bench)]
    out += rail_lines(bench, supply)
    out += [line for line in of_rectifier if line.stage.powered]
    for seat in seats:
        own = currents.get(seat.at)
        out += electrode_lines(bench, seat)
        out += _serving(bench, seat)
        out += [line for line in (current_line(bench, seat, own),) if line is not None]
        out += dissipation_lines(bench, seat, own)
        out += [
            line
            for line in (balance_line(bench, seat, currents), point_line(bench, seat, own))
            if line is not None
        ]
    return (*out, *unknown_seats(bench))


def _needs_winding(seat: Seat) -> bool:
    """An output valve whose cathode resistor cannot tell what it alone draws."""
    return seat.use == "output" and (seat.bias != "cathode" or seat.cathode_sharing > 1)


def _half_primaries(bench: Bench) -> tuple[Line, ...]:
    """Half of the primary at each output valve that has no cathode resistor to read it by."""
    out: list[Line] = []
    for seat in at_work(bench):
        value = bench.value("half-primary", seat.at)
        if value is None and not _needs_winding(seat):
            continue
        drawn_half = load_of(bench, seat) if value is None else None
        about = "" if drawn_half is None else f": about {shown(drawn_half.value, 'ohm')}"
        says = f"Measure half of the primary at {seat.at}, cold{about}."
        if value is not None:
            says = f"{shown(value, 'ohm')} from {seat.at} to the centre tap, cold."
        reading = bench.reading("half-primary", seat.at)
        out.append(
            tell(bench, "half-primary", at=seat.at, value=value, says=says, readings=(reading,))
        )
    return tuple(out)


def _serving(bench: Bench, seat: Seat) -> tuple[Line, ...]:
    """Readings that only serve others: shown as they are, and the drop where it is needed."""
    out: list[Line] = []
    for line, what in _SERVING.items():
        value = bench.value(line, seat.at)
        if value is None:
            probed = bench.value("probe-current", seat.at) is not None
            if line == "plate-drop" and _needs_winding(seat) and not probed:
                says = f"Read the drop {what} {seat.at} at rest, or use a bias probe."
                out.append(tell(bench, line, at=seat.at, says=says))
            continue
        unit = bench.kinds[line].unit
        taken = read(bench, line, seat.at)
        sd = "" if taken is None else f" ± {shown(taken.sd, unit, 2)}"
        says = f"{shown(value, unit)}{sd} {what} {seat.at}."
        reading = bench.reading(line, seat.at)
        out.append(tell(bench, line, at=seat.at, value=value, says=says, readings=(reading,)))
    return tuple(out)


_SERVING = {
    "plate-drop": "across the half of the primary at",
    "screen-drop": "across the screen resistor of",
    "probe-current": "by the probe at",
}
