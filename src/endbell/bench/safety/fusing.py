"""Lines of the fuse, the mains and the tap: what today's mains does to an old primary."""

from __future__ import annotations

from ..circuit import Winding
from ..facts import fact, facts
from ..limits import bounds_for
from ..lines import Bound, Judgement, Line, judged
from ..readings import Bench, Reading
from ..telling import against, percent, shown, tell, usable
from .mains import fuse_on_tap, mains_current, scaled
from .standing import (
    Mains,
    Tap,
    mains_of,
    mains_row,
    practice,
    rule,
    rule_bound,
    tap_of,
    words_of,
)


def fuse(bench: Bench) -> Line:
    """The mains fuse against the one drawn and the current it carries: size and kind."""
    reading = bench.reading("fuse-fitted")
    value = bench.value("fuse-fitted")
    mains = mains_of(bench)
    tap = tap_of(bench, mains)
    amps, told, current = running_current(bench, tap)
    bounds, expected = _fuse_bounds(bench, amps, tap)
    drawn = bench.circuit.fuse_kind
    kind, title = _kind(reading)
    judgement: Judgement | None = None
    if value is None:
        says = f"Read the fuse: its amperes and its kind; {told}."
    else:
        says = f"A fuse of {shown(value, 'A')} is {against(value, bounds, 'A')}; {told}."
        found = judged(value, bounds)
        if found is Judgement.HIGH:
            says += " It would let the transformer burn before it goes."
        elif found is Judgement.LOW:
            says += " It will go in normal use."
    if value is not None and kind == "none":
        judgement = Judgement.ODD
        says = f"{title[:1].upper()}{title[1:]}: fit a fuse before mains is on."
    elif value is not None and drawn and kind and kind != drawn:
        late = "acts too late in a fault" if kind in ("T", "M") else "goes at every switching on"
        if judged(value, bounds) is Judgement.WITHIN:
            judgement = Judgement.ODD
        says += f" It is of the wrong kind: {title}, drawn is {drawn}; this one {late}."
    elif value is not None and drawn and not kind:
        says += f" Its kind was not noted; drawn is {drawn}."
    return tell(
        bench,
        "fuse-fitted",
        value=value,
        judgement=judgement,
        bounds=bounds,
        expected=expected,
        says=says,
        works="I = P/V at the tap, power factor 1, or the current as measured",
        readings=(reading, current),
    )


def running_current(bench: Bench, tap: Tap | None) -> tuple[float | None, str, Reading | None]:
    """The amp's mains current: as measured, else from its watts; with words and the reading."""
    read = usable(bench, "mains-current")
    if read is not None:
        return read, f"it draws {shown(read, 'A')}, as measured", bench.reading("mains-current")
    watt = bench.circuit.mains_watt
    if watt is None or tap is None:
        return None, "the amp's mains current is not known", None
    amps = mains_current(watt, tap.volts)
    told = f"{shown(watt, 'W')} at {shown(tap.volts, 'V')} are {shown(amps, 'A')}"
    return amps, told, tap.reading


def _fuse_bounds(
    bench: Bench, amps: float | None, tap: Tap | None
) -> tuple[tuple[Bound, ...], float | None]:
    circuit = bench.circuit
    bounds: list[Bound] = []
    drawn = circuit.fuse
    if drawn is not None:
        first = circuit.mains[0].volts if circuit.mains else None
        here = drawn if tap is None or first is None else fuse_on_tap(drawn, first, tap.volts)
        most = here * rule("fuse-drawn")
        title = f"the fuse drawn, {shown(here, 'A')}"
        bounds.append(Bound(None, most, title, circuit.source, circuit.confidence))
        drawn = here
    if amps is not None:
        bounds.append(rule_bound("fuse-low", rule("fuse-low") * amps, None, "to last in use"))
        if drawn is None:
            high = rule("fuse-high") * amps
            bounds.append(rule_bound("fuse-high", None, high, "to protect in time"))
    return tuple(bounds), drawn


def _kind(reading: Reading | None) -> tuple[str, str]:
    """Kind of a fuse ('T', 'F', 'M', 'none', '') and its words, from the reading's note."""
    if reading is None:
        return "", ""
    words = words_of(reading)
    for row in facts("safety", "fuse_kinds"):
        if row["word"].lower() in words:
            return row["kind"], row["title"]
    return "", ""


def mains_volts(bench: Bench) -> Line:
    """The mains at the socket, against its own range and against the tap."""
    value = bench.value("mains-volts")
    mains = mains_of(bench)
    tap = tap_of(bench, mains)
    row = mains_row(bench)
    supply = bounds_for("mains-volts", row["id"], "")
    bounds = supply
    if tap is not None:
        off = rule("tap-off")
        title = f"{shown(tap.volts, 'V')} tap, within {off:.0%} as its heaters need"
        bounds = (
            *supply,
            rule_bound("tap-off", tap.volts * (1 - off), tap.volts * (1 + off), title),
        )
    if value is None:
        says = "Measure the mains at the socket."
    else:
        says = f"{shown(value, 'V')}, {against(value, bounds, 'V')}."
        if tap is not None and usable(bench, "mains-volts") is not None:
            says += f" It is {percent(value / tap.volts - 1)} off {tap.told}."
        if row["id"] != practice(bench):
            nominal = fact("safety", "mains", practice(bench))["nominal"]
            says += f" The practice's own mains is {nominal} V: is it from a transformer?"
    return tell(
        bench,
        "mains-volts",
        value=value,
        bounds=bounds,
        expected=tap.volts if tap else None,
        says=says,
        readings=(bench.reading("mains-volts"), tap.reading if tap else None),
    )


def tap_set(bench: Bench) -> tuple[Line, ...]:
    """The tap in use, asked for where there are several."""
    line = "tap-set"
    value = bench.value(line)
    taps = tuple(tap.volts for tap in bench.circuit.mains)
    if value is None and len(taps) < 2:
        return ()
    drawn = ", ".join(shown(tap, "V") for tap in taps) or "none"
    judgement: Judgement | None = None
    says = f"Note the mains tap in use; drawn are {drawn}."
    if value is not None:
        known = any(abs(value - tap) < 0.5 for tap in taps)
        judgement = Judgement.WITHIN if known else Judgement.ODD if taps else Judgement.NO_LIMIT
        says = f"{shown(value, 'V')} tap in use"
        says += "." if known else f": it is not among those drawn ({drawn})."
    return (
        tell(
            bench,
            line,
            value=value,
            judgement=judgement,
            says=says,
            readings=(bench.reading(line),),
        ),
    )


def mains_current_line(bench: Bench) -> Line:
    """The mains current of the warm amp against what its watts say."""
    line = "mains-current"
    value = bench.value(line)
    tap = tap_of(bench, mains_of(bench))
    watt = bench.circuit.mains_watt
    bounds: tuple[Bound, ...] = ()
    told = "what it should draw is not drawn"
    if watt is not None and tap is not None:
        amps = mains_current(watt, tap.volts)
        told = f"{shown(watt, 'W')} at {shown(tap.volts, 'V')} are {shown(amps, 'A')}"
        bounds = (rule_bound("current-most", None, rule("current-most") * amps),)
    if value is None:
        says = f"Measure the mains current, idle and warm; {told}."
    else:
        says = f"{shown(value, 'A')} from the mains, {against(value, bounds, 'A')}; {told}."
    return tell(bench, line, value=value, bounds=bounds, says=says, readings=(bench.reading(line),))


def secondaries(bench: Bench) -> tuple[Line, ...]:
    """What every winding of the power transformer gives on today's mains."""
    mains = mains_of(bench)
    tap = tap_of(bench, mains)
    if tap is None:
        return ()
    return tuple(
        _secondary(bench, winding, mains, tap)
        for winding in bench.circuit.windings
        if winding.part == "pt" and winding.use != "primary" and winding.volts
    )


def _secondary(bench: Bench, winding: Winding, mains: Mains, tap: Tap) -> Line:
    nominal = abs(winding.volts or 0.0)
    value = scaled(nominal, mains.volts, tap.volts)
    ratio = mains.volts / tap.volts - 1
    bounds: tuple[Bound, ...] = ()
    if "heater" in winding.use:
        off = rule("heater-off")
        bounds = (rule_bound("heater-off", nominal * (1 - off), nominal * (1 + off)),)
        british = rule("heater-off-british")
        end = f"heater of {shown(nominal, 'V')}, {against(value, bounds, 'V')}"
        if british < abs(ratio) <= off:
            end += f"; more than the ±{british:.0%} of British practice"
    elif winding.use == "hv":
        rails = [
            f"{rail.id} {shown(scaled(rail.volts, mains.volts, tap.volts), 'V')} for "
            f"{shown(rail.volts, 'V')}"
            for rail in bench.circuit.rails
            if rail.volts > 0
        ]
        end = "the rails follow: " + (", ".join(rails) if rails else "none is drawn")
    else:
        end = f"drawn as {shown(nominal, 'V')}"
    return tell(
        bench,
        "tap-secondaries",
        at=winding.id,
        value=value,
        judgement=None if bounds else Judgement.NO_LIMIT,
        bounds=bounds,
        expected=nominal,
        says=(
            f"{winding.id} gives {shown(value, 'V')} ({percent(ratio)}) on mains of {mains.told} "
            f"with {tap.told}; {end}."
        ),
        works="V = drawn · mains / tap, unloaded",
        readings=(mains.reading, tap.reading),
    )
