"""Lines of the unplugged amp: its cord, a line capacitor, plug, insulation."""

from __future__ import annotations

from ..limits import bounds_for
from ..lines import Bound, Judgement, Line, judged
from ..readings import Bench
from ..telling import against, shown, tell, usable
from .leakage import capacitor_current
from .standing import conductors, mains_of, practice, protection, rule, rule_bound, words_of


def cord(bench: Bench) -> Line:
    """Whether the cord has an earth conductor: a two-wire cord is flagged."""
    counted = conductors(bench)
    reading = bench.reading("cord-kind")
    drawn = bench.circuit.protection
    judgement: Judgement | None = None
    if counted is None:
        says = "Count the conductors of the mains cord."
    elif counted >= 3:
        judgement = Judgement.WITHIN
        says = "A cord with an earth conductor: the bond to the chassis is to be measured."
        if drawn == "0":
            says = "A third conductor was added to an amp drawn with two: measure its bond."
    elif drawn == "II":
        judgement = Judgement.WITHIN
        says = "Two conductors, as a double-insulated amp has."
    else:
        judgement = Judgement.ODD
        drawn_so = "as it was made" if drawn == "0" else "though it is drawn with an earth"
        says = (
            f"A two-wire cord, {drawn_so}: no earth, so one fault in the mains side makes the "
            "chassis and every guitar string live. Fit a three-wire cord, or override by name."
        )
    works = f"protection class drawn: {drawn}; held to class {protection(bench)}"
    return tell(
        bench,
        "cord-kind",
        value=bench.value("cord-kind"),
        judgement=judgement,
        expected=2.0 if drawn in ("0", "II") else 3.0,
        says=says,
        works=works,
        readings=(reading,),
    )


def line_capacitor(bench: Bench) -> Line:
    """A capacitor between the mains and the chassis: flagged, with the current it passes."""
    reading = bench.reading("line-capacitor")
    value = bench.value("line-capacitor")
    count = usable(bench, "line-capacitor")
    drawn = [c for c in bench.circuit.capacitors if c.use == "line-to-chassis"]
    mains = mains_of(bench)
    amps = sum(capacitor_current(c.farad, mains.high, mains.hertz) for c in drawn)
    shorted = (
        f"{', '.join(c.id for c in drawn)}, {shown(sum(c.farad for c in drawn), 'F')}, passes "
        f"{shown(amps, 'A')} at {shown(mains.high, 'V')}"
        if drawn
        else "none is drawn"
    )
    judgement: Judgement | None = None
    if count is None:
        says = f"Look for a capacitor from the line to the chassis: {shorted}."
    elif count == 0:
        judgement = Judgement.WITHIN
        says = "No capacitor from the line to the chassis."
    elif reading is not None and {"y1", "y2"} & words_of(reading):
        judgement = Judgement.CHECK
        says = (
            "A capacitor from the line to the chassis, marked as a safety type: check the "
            f"standard for where it may sit; {shorted}."
        )
    else:
        judgement = Judgement.ODD
        says = (
            "A capacitor from the line to the chassis: when it shorts, the chassis is at the "
            f"mains. Take it out before mains is on, or override by name; {shorted}."
        )
    return tell(
        bench,
        "line-capacitor",
        value=value,
        judgement=judgement,
        expected=float(len(drawn)),
        says=says,
        works="I = 2πf·C·V at the highest mains" if drawn else "",
        readings=(reading,),
    )


def plug_resistance(bench: Bench) -> Line:
    """Line to neutral at the plug: the primary should be seen, neither a short nor nothing."""
    reading = bench.reading("plug-resistance")
    value = bench.value("plug-resistance")
    primary = _primary_ohm(bench)
    bounds: tuple[Bound, ...] = ()
    if primary is not None:
        off = rule("primary-off")
        bounds = (
            rule_bound(
                "primary-off",
                primary * (1 - off),
                primary * (1 + off),
                f"primary of {shown(primary, 'ohm')} as drawn",
            ),
        )
    if value is None:
        says = "Measure between the line and neutral pins, the amp's switch on."
    elif not bounds:
        says = f"{shown(value, 'ohm')} between the pins; the primary's resistance is not drawn."
    else:
        says = f"{shown(value, 'ohm')} between the pins, {against(value, bounds, 'ohm')}"
        found = judged(value, bounds)
        if found is Judgement.HIGH:
            says += ": switch, fuse, selector or primary is open or bad"
        elif found is Judgement.LOW:
            says += ": shorted turns, a wrong tap, or something across the mains"
        says += "."
    return tell(
        bench,
        "plug-resistance",
        value=value,
        bounds=bounds,
        expected=primary,
        says=says,
        works="primary winding at 20 °C plus what cord, fuse and switch add",
        readings=(reading,),
    )


def _primary_ohm(bench: Bench) -> float | None:
    """Resistance of the primary as drawn; None on another tap than it is drawn for."""
    own = [w for w in bench.circuit.windings if w.part == "pt" and w.use == "primary"]
    if len(own) != 1:
        return None
    read = usable(bench, "tap-set")
    drawn = own[0].volts
    if read is not None and drawn and abs(read / drawn - 1) > rule("tap-off"):
        return None
    return own[0].dc_ohm


def insulation(bench: Bench) -> Line:
    """Mains to chassis at the test voltage, held to the protection class as it stands."""
    value = bench.value("insulation")
    kind = protection(bench)
    bounds = bounds_for("insulation", practice(bench), kind)
    if value is None:
        says = "Measure from line and neutral together to the chassis at 500 V dc."
    else:
        says = f"{shown(value, 'ohm')} to the chassis, {against(value, bounds, 'ohm')}."
    return tell(
        bench,
        "insulation",
        value=value,
        bounds=bounds,
        says=says,
        works=f"held to protection class {kind}",
        readings=(bench.reading("insulation"), bench.reading("cord-kind")),
    )
