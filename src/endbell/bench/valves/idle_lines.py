"""Lines of what a valve draws and burns at rest, and of the pair's balance."""

from __future__ import annotations

from collections.abc import Mapping

from ..circuit import Seat
from ..limits import bounds_for
from ..lines import Bound, Judgement, Line
from ..readings import Bench, Reading
from ..safety.standing import practice
from ..telling import against, percent, shown, tell
from .balance import balance
from .bias import NotPossible, Sure, watts
from .drawing import Drawn, cathode_now
from .given import (
    arrangement,
    mains_share,
    mains_told,
    pair_of,
    read,
    readings,
)
from .koren import Pentode
from .models import has_model, model
from .ratings import Figure, RatingSystem, allowed_now, rating
from .tables import figure, rows
from .tolerance import assumed

Currents = Mapping[str, Drawn]

_POWER = ("output", "reverb drive")


def current_line(bench: Bench, seat: Seat, drawn: Drawn | None) -> Line | None:
    """The plate current at rest; None for a small valve of which nothing was read."""
    if drawn is None:
        if seat.use != "output":
            return None
        return tell(bench, "plate-current", at=seat.at, says=_how(seat))
    bounds: list[Bound] = []
    found = rating(seat.type)
    # a small valve's cathode never comes near its limit: its own line says more
    if found is not None and found.cathode_amp is not None and seat.use in _POWER:
        most = found.cathode_amp
        title = f"{shown(most.value, 'A')} for the cathode ({found.system.title})"
        bounds.append(Bound(None, most.value, title, most.source, most.confidence))
    value = drawn.plate.value
    ways = "; ".join(f"{name}: {shown(way.value, 'A')}" for name, way in drawn.ways)
    sd = shown(drawn.plate.sd, "A", 2)
    says = (
        f"{seat.at} draws {shown(value, 'A')} ± {sd}, {against(value, tuple(bounds), 'A')} ({ways})"
    )
    if drawn.odd:
        says = f"{seat.at}: {drawn.odd}"
    return tell(
        bench,
        "plate-current",
        at=seat.at,
        value=value,
        judgement=Judgement.ODD if drawn.odd else None,
        bounds=tuple(bounds),
        spread=drawn.plate.sd,
        says=says + ".",
        works=drawn.plate.works,
        readings=readings(bench, drawn.rests_on),
    )


def dissipation_lines(bench: Bench, seat: Seat, drawn: Drawn | None) -> tuple[Line, ...]:
    """Plate and screen dissipation of an output valve against its rating in its system."""
    if seat.use not in _POWER:
        return ()
    found = rating(seat.type)
    of_plate = None if found is None else found.plate_watt
    of_screen = None if found is None else found.screen_watt
    system = None if found is None else found.system
    plate = _watts(bench, seat, "plate", None if drawn is None else drawn.plate)
    out = [_dissipated(bench, seat, "plate", plate, of_plate, system, drawn)]
    if has_model(seat.type) and isinstance(model(seat.type).valve, Pentode):
        screen = _watts(bench, seat, "screen", None if drawn is None else drawn.screen)
        out.append(_dissipated(bench, seat, "screen", screen, of_screen, system, drawn))
    return tuple(out)


def balance_line(bench: Bench, seat: Seat, currents: Currents) -> Line | None:
    """The balance of a pair, told once, at the first of the two."""
    other = pair_of(bench, seat)
    if other is None or seat.use != "output" or seat.at > other.at:
        return None
    at = f"{seat.at}+{other.at}"
    if seat.at not in currents or other.at not in currents:
        says = f"Find the plate currents of both {seat.at} and {other.at}, the same way."
        return tell(bench, "balance", at=at, says=says)
    one, two = currents[seat.at], currents[other.at]
    found = balance(one.plate, two.plate, (seat.at, other.at))
    bounds = bounds_for("balance", practice(bench))
    share = found.share.value
    says = (
        f"{seat.at} {shown(one.plate.value, 'A')}, {other.at} {shown(two.plate.value, 'A')}: "
        f"{percent(share)} apart, {against(share, bounds, '1')}"
    )
    if not found.more:
        says += "; the readings cannot tell the two apart"
    # both off one resistor have the same reading: that says nothing of the pair
    if seat.cathode_sharing > 1 and one.ways[0][0] == two.ways[0][0] == "cathode resistor":
        says = (
            f"{seat.at} and {other.at} share their cathode resistor: it cannot tell them apart. "
            "Read the drop across each half of the primary."
        )
        return tell(bench, "balance", at=at, says=says)
    return tell(
        bench,
        "balance",
        at=at,
        value=share,
        bounds=bounds,
        spread=found.share.sd,
        says=says + ".",
        works=f"{shown(abs(found.left_over.value), 'A')} is left over for the core to carry",
        readings=readings(bench, (*one.rests_on, *two.rests_on)),
    )


def _how(seat: Seat) -> str:
    if seat.bias == "cathode" and seat.cathode_ohm:
        ohm = shown(seat.cathode_ohm, "ohm")
        return f"Follows from the cathode volts of {seat.at} over its {ohm}."
    return (
        f"For {seat.at} read half the primary cold and the drop across it at rest, or use a bias "
        "probe (it reads the screen too)."
    )


def _watts(bench: Bench, seat: Seat, electrode: str, amp: Sure | None) -> Sure | str | None:
    """Watts, None where something was not read, a sentence where the readings cannot be."""
    volts = read(bench, f"{electrode}-volts", seat.at)
    if amp is None or volts is None:
        return None
    try:
        return watts(amp, volts, cathode_now(bench, seat))
    except NotPossible as wrong:
        return str(wrong)


def _dissipated(
    bench: Bench,
    seat: Seat,
    electrode: str,
    found: Sure | str | None,
    limit: Figure | None,
    system: RatingSystem | None,
    drawn: Drawn | None,
) -> Line:
    line = f"{electrode}-dissipation"
    taken: tuple[Reading | None, ...] = (bench.reading(f"{electrode}-volts", seat.at),)
    if not isinstance(found, Sure):
        says = (
            f"{found}."
            if found
            else f"Follows from the {electrode} volts and the current of {seat.at}."
        )
        judgement = Judgement.IMPOSSIBLE if found else Judgement.NOT_MEASURED
        return tell(bench, line, at=seat.at, judgement=judgement, says=says, readings=taken)
    taken += readings(bench, () if drawn is None else drawn.rests_on)
    bounds: tuple[Bound, ...] = ()
    share = f"; no rating of a {seat.type} is known"
    if limit is not None and system is not None:
        power = assumed()["watts-by-mains"].value
        most = allowed_now(limit.value, system, mains_share(bench) or 1.0, power)
        where = "nominal mains" if system.mains == 1.0 else f"mains {system.mains - 1.0:.0%} high"
        title = f"rated {shown(limit.value, 'W')} {system.title}, which counts at {where}"
        bounds = (Bound(None, most, title, limit.source, limit.confidence),)
        share = f"; {found.value / limit.value:.0%} of the {system.title} {shown(limit.value, 'W')}"
        if electrode == "plate" and seat.use == "output":
            bounds += _idle(seat, limit)
    says = (
        f"The {electrode} of {seat.at} burns {shown(found.value, 'W')} ± {shown(found.sd, 'W', 2)}"
    )
    says += f", {against(found.value, bounds, 'W')}{share}; {mains_told(bench)}."
    works = found.works
    if electrode == "screen" and drawn is not None and drawn.screen is not None:
        works += f"; {drawn.screen.works}"
    return tell(
        bench,
        line,
        at=seat.at,
        value=found.value,
        bounds=bounds,
        spread=found.sd,
        says=says,
        works=works,
        readings=taken,
    )


def _idle(seat: Seat, limit: Figure) -> tuple[Bound, ...]:
    for row in rows("idle"):
        if row["bias"] == seat.bias and row["arrangement"] == arrangement(seat):
            low, high = figure(row, "low"), figure(row, "high")
            return (
                Bound(
                    None if low is None else low * limit.value,
                    None if high is None else high * limit.value,
                    row["title"],
                    row["source"],
                    row["confidence"],
                ),
            )
    return ()
