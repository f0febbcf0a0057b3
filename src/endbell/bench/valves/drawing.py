"""What each valve of a sheet draws at rest, by every way that its readings allow."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from ..circuit import Seat
from ..readings import Bench
from .bias import (
    NotPossible,
    ScreenShare,
    Sure,
    cathode_resistor,
    less,
    over,
    plate_from_cathode,
    screen_share,
    transformer_resistance,
)
from .given import load_of, read, resistor_sd
from .koren import Pentode
from .models import has_model, model
from .tolerance import assumed

# Above this a plate load is a resistor and not the copper of a transformer
_RESISTOR_OHM = 1000.0


@dataclass(frozen=True, slots=True)
class Drawn:
    """Plate and screen current of a valve at rest (A); ``ways``: each way with its result, best
    first; ``rests_on``: (line, place) of the readings; ``odd``: what does not fit, a sentence."""

    plate: Sure
    screen: Sure | None
    ways: tuple[tuple[str, Sure], ...]
    rests_on: tuple[tuple[str, str], ...]
    odd: str = ""


def drawn(bench: Bench, seat: Seat) -> Drawn | None:
    """The currents of a seat; None where nothing was read from which they follow."""
    odd = ""
    ways: list[tuple[str, Sure]] = []
    rests: list[tuple[str, str]] = []
    try:
        screen = _screen(bench, seat)
    except NotPossible as wrong:
        screen, odd = None, str(wrong)
    if screen is not None:
        rests.append(("screen-drop", seat.at))
    for name, line, way in (
        ("output transformer", "plate-drop", _by_transformer),
        ("cathode resistor", "cathode-volts", _by_cathode),
        ("probe", "probe-current", _by_probe),
        ("plate resistor", "plate-volts", _by_plate_resistor),
    ):
        try:
            found = way(bench, seat, screen)
        except NotPossible as wrong:
            odd = str(wrong)
            continue
        if found is not None:
            ways.append((name, found))
            rests.append((line, seat.at))
    if not ways:
        return None
    ways.sort(key=lambda one: one[1].sd)
    best = ways[0][1]
    for name, other in ways[1:]:
        if abs(other.value - best.value) > assumed()["at-odds"].value * hypot(other.sd, best.sd):
            odd = (
                f"by its {ways[0][0]} it draws {best.value * 1e3:.3g} mA, by its {name} "
                f"{other.value * 1e3:.3g} mA: one of the resistances is not what it is taken for"
            )
    if screen is None:
        screen = _estimated_screen(bench, seat, best)
    return Drawn(best, screen, tuple(ways), tuple(rests), odd)


def cathode_now(bench: Bench, seat: Seat) -> Sure:
    """The cathode's voltage against the chassis: read, or 0 where it is drawn at the chassis."""
    taken = read(bench, "cathode-volts", seat.at)
    if taken is not None:
        return taken
    if seat.cathode is not None:
        return Sure(seat.cathode, 0.1 * seat.cathode, "as drawn")
    return Sure(0.0, 0.0, "at the chassis")


def _screen(bench: Bench, seat: Seat) -> Sure | None:
    drop = read(bench, "screen-drop", seat.at)
    if drop is None or not seat.screen_ohm:
        return None
    return over(drop, Sure(seat.screen_ohm, resistor_sd(seat.screen_ohm)))


def _from_cathode(bench: Bench, seat: Seat, cathode: Sure, screen: Sure | None) -> Sure:
    if screen is not None:
        return less(cathode, screen)
    if not has_model(seat.type):
        return Sure(cathode.value, cathode.sd, cathode.works + ", screen included")
    return plate_from_cathode(cathode, _share(bench, seat))


def _share(bench: Bench, seat: Seat) -> ScreenShare:
    at = cathode_now(bench, seat).value
    plate, screen = (
        taken.value if (taken := read(bench, line, seat.at)) is not None else (drawn_volts or 0.0)
        for line, drawn_volts in (("plate-volts", seat.plate), ("screen-volts", seat.screen))
    )
    return screen_share(seat.type, plate - at, screen - at, -at)


def _by_cathode(bench: Bench, seat: Seat, screen: Sure | None) -> Sure | None:
    volts = read(bench, "cathode-volts", seat.at)
    if volts is None or not seat.cathode_ohm or seat.use == "inverter":
        return None
    if abs(seat.grid or 0.0) > 0.5 and seat.bias != "fixed":
        return None
    ohm = Sure(seat.cathode_ohm, resistor_sd(seat.cathode_ohm))
    return _from_cathode(bench, seat, cathode_resistor(volts, ohm, seat.cathode_sharing), screen)


def _by_probe(bench: Bench, seat: Seat, screen: Sure | None) -> Sure | None:
    amp = read(bench, "probe-current", seat.at)
    if amp is None:
        return None
    return _from_cathode(bench, seat, Sure(amp.value, amp.sd, "the probe's reading"), screen)


def _by_transformer(bench: Bench, seat: Seat, screen: Sure | None) -> Sure | None:
    drop, ohm = read(bench, "plate-drop", seat.at), load_of(bench, seat)
    if drop is None or ohm is None or ohm.value >= _RESISTOR_OHM:
        return None
    rise = assumed()["winding-rise"].value
    return transformer_resistance(
        drop, ohm, bench.ambient, bench.ambient + rise, assumed()["winding-warm"].value
    )


def _by_plate_resistor(bench: Bench, seat: Seat, screen: Sure | None) -> Sure | None:
    rail, plate = read(bench, "rail-volts", seat.rail), read(bench, "plate-volts", seat.at)
    if rail is None or plate is None or (seat.plate_ohm or 0.0) < _RESISTOR_OHM:
        return None
    if seat.use == "output" or plate.value > rail.value:
        return None
    assert seat.plate_ohm
    across = Sure(rail.value - plate.value, hypot(rail.sd, plate.sd))
    found = over(across, Sure(seat.plate_ohm, resistor_sd(seat.plate_ohm)))
    return Sure(found.value, found.sd, "rail less plate over the plate resistor")


def _estimated_screen(bench: Bench, seat: Seat, plate: Sure) -> Sure | None:
    if not has_model(seat.type) or not isinstance(model(seat.type).valve, Pentode):
        return None
    share = _share(bench, seat)
    if not 0.0 < share.share < 1.0:
        return None
    amp = plate.value * share.share / (1.0 - share.share)
    return Sure(amp, amp * hypot(plate.relative, share.sd), share.works)
