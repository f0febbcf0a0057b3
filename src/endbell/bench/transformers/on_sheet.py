"""Transformers on a bench sheet: every winding by ohms, ratio, volts; what the primary shows;
whether it is the transformer that belongs there.
"""

from __future__ import annotations

from ..circuit import Winding
from ..lines import Bound, Judgement, Line
from ..readings import Bench
from ..safety.mains import scaled
from ..safety.standing import mains_of, tap_of
from ..telling import against, named, shown, tell
from .copper import at_temperature
from .identity_lines import identity_lines
from .ratios import reflected
from .reading import (
    Got,
    expected_ratio,
    henry_of,
    ohm_of,
    primary_of,
    ratio_of,
    rule,
    rule_bound,
)


def lines(bench: Bench) -> tuple[Line, ...]:
    """Every line of the windings, those not measured yet included: cold first, then on mains."""
    windings = bench.circuit.windings
    return (
        *_ohms(bench),
        *_ratios(bench),
        *(line for w in windings for line in _impedance(bench, w)),
        *_inductances(bench),
        *identity_lines(bench),
        *_volts(bench),
    )


def _ohms(bench: Bench) -> tuple[Line, ...]:
    drawn = [w for w in bench.circuit.windings if w.dc_ohm]
    extra = _more(bench, "winding-ohm", [w.id for w in drawn])
    return (*(_ohm(bench, w.id, w) for w in drawn), *(_ohm(bench, at, None) for at in extra))


def _ohm(bench: Bench, at: str, winding: Winding | None) -> Line:
    got = ohm_of(bench, at)
    reading = bench.reading("winding-ohm", at)
    value = None if reading is None else reading.value
    bounds: tuple[Bound, ...] = ()
    expected = spread = None
    if winding is not None and winding.dc_ohm and not (got and got.wrong):
        expected = _warm(winding.dc_ohm, bench.ambient)
        spread = expected * winding.dc_tolerance
        off = rule("ohm-sds") * spread
        title = f"{shown(winding.dc_ohm, 'ohm')} at 20 °C as drawn"
        bounds = (rule_bound("ohm-sds", max(expected - off, 0.0), expected + off, title),)
    if value is None:
        says = f"Measure the resistance of {named(at)}."
        if expected is not None:
            says = f"Measure the resistance of {named(at)}: about {shown(expected, 'ohm')}."
    elif got is not None and got.wrong:
        return _impossible(bench, "winding-ohm", at, got)
    else:
        says = f"{named(at)} has {shown(value, 'ohm')}"
        if got is not None and got.value is not None:
            says += f" ({shown(got.value, 'ohm')} at 20 °C)"
        says += f", {against(value, bounds, 'ohm')}."
    return tell(
        bench,
        "winding-ohm",
        at=at,
        value=value,
        bounds=bounds,
        expected=expected,
        spread=spread,
        says=says,
        works=got.works if got else "",
        readings=(reading,),
    )


def _warm(ohm: float, kelvin: float) -> float:
    """A drawn resistance at the ambient; as drawn where the ambient is none (told at a reading)."""
    try:
        return at_temperature(ohm, kelvin)
    except ValueError:
        return ohm


def _ratios(bench: Bench) -> tuple[Line, ...]:
    drawn = [
        w
        for w in bench.circuit.windings
        if w.part != "pt" and expected_ratio(bench.circuit, w) is not None
    ]
    own = [w.id for w in drawn]
    extra = list(
        dict.fromkeys(
            at
            for line in ("winding-ratio", "ratio-primary-volts", "ratio-secondary-volts")
            for at in _more(bench, line, own)
        )
    )
    return tuple(_ratio(bench, at) for at in (*own, *extra))


def _ratio(bench: Bench, at: str) -> Line:
    winding = next((w for w in bench.circuit.windings if w.id == at), None)
    expected = None if winding is None else expected_ratio(bench.circuit, winding)
    got = ratio_of(bench, at)
    if got is not None and got.wrong:
        return _impossible(bench, "winding-ratio", at, got)
    bounds: tuple[Bound, ...] = ()
    if expected is not None:
        off = rule("ratio-off")
        title = f"{expected:.4g} : 1 as drawn"
        bounds = (rule_bound("ratio-off", expected * (1 - off), expected * (1 + off), title),)
    value = got.value if got else None
    if value is None:
        says = f"Measure the ratio of the primary to {named(at)}."
        if bench.reading("ratio-primary-volts", at) or bench.reading("ratio-secondary-volts", at):
            says = (
                f"Both voltages are needed for the ratio to {named(at)}: the primary's and its own."
            )
    else:
        says = f"Primary to {named(at)} is {value:.4g} : 1, {against(value, bounds, '1')}."
    return tell(
        bench,
        "winding-ratio",
        at=at,
        value=value,
        bounds=bounds,
        expected=expected,
        spread=got.spread if got else None,
        says=says,
        works=got.works if got else "",
        readings=got.readings if got else (),
    )


def _impedance(bench: Bench, winding: Winding) -> tuple[Line, ...]:
    """What the primary shows with the tap's own load: only of an output transformer's taps."""
    if winding.part != "ot" or winding.use != "secondary" or not winding.load_ohm:
        return ()
    got = ratio_of(bench, winding.id)
    value = None
    bounds: tuple[Bound, ...] = ()
    drawn = bench.circuit.primary_ohm
    says = f"Follows from the ratio to {winding.id}."
    if got is not None and got.wrong:
        got, says = None, f"Follows from the ratio to {winding.id}, which cannot be as it was read."
    works = "n²·R, the copper left out, as it is quoted"
    if got is not None and got.value is not None:
        value = reflected(got.value, winding.load_ohm)
        if drawn:
            off = rule("impedance-off")
            title = f"{shown(drawn, 'ohm')} as drawn"
            bounds = (rule_bound("impedance-off", drawn * (1 - off), drawn * (1 + off), title),)
        says = (
            f"{shown(winding.load_ohm, 'ohm')} at {winding.id} shows as {shown(value, 'ohm')} at "
            f"the primary, {against(value, bounds, 'ohm')}."
        )
        loads = dict.fromkeys(w.load_ohm for w in bench.circuit.windings if w.load_ohm)
        others = [
            f"{shown(load, 'ohm')} as {shown(reflected(got.value, load), 'ohm')}"
            for load in loads
            if load != winding.load_ohm
        ]
        if others:
            works += f"; on the same tap {', '.join(others)}"
        primary = primary_of(bench.circuit, winding)
        own = [ohm_of(bench, w.id) for w in (primary, winding) if w is not None]
        ohms = [o.value for o in own if o is not None and o.value is not None]
        if len(ohms) == 2:
            whole = reflected(got.value, winding.load_ohm, ohms[0], ohms[1])
            works += f"; with the copper n²·(R + R2) + R1 = {shown(whole, 'ohm')}"
    return (
        tell(
            bench,
            "primary-impedance",
            at=winding.id,
            value=value,
            bounds=bounds,
            expected=drawn,
            says=says,
            works=works,
            readings=got.readings if got else (),
        ),
    )


def _inductances(bench: Bench) -> tuple[Line, ...]:
    places = dict.fromkeys(
        at.removesuffix("@2")
        for line in ("winding-inductance", "winding-test-volts")
        for at in bench.places(line)
    )
    found: list[Line] = []
    for at in places:
        got = henry_of(bench, at)
        if got is None:
            says = (
                f"Voltage, current and frequency are all needed for the inductance of {named(at)}."
            )
            found.append(tell(bench, "winding-inductance", at=at, says=says))
        elif got.wrong:
            found.append(_impossible(bench, "winding-inductance", at, got))
        else:
            value = got.value or 0.0
            says = f"{named(at)} has about {shown(value, 'H')}, which changes with level and dc."
            found.append(
                tell(
                    bench,
                    "winding-inductance",
                    at=at,
                    value=value,
                    spread=got.spread,
                    says=says,
                    works=got.works,
                    readings=got.readings,
                )
            )
    return tuple(found)


def _volts(bench: Bench) -> tuple[Line, ...]:
    drawn = [w for w in bench.circuit.windings if w.part == "pt" and w.volts and w.use != "primary"]
    return tuple(_open_volts(bench, winding) for winding in drawn)


def _open_volts(bench: Bench, winding: Winding) -> Line:
    line = "winding-volts"
    value = bench.value(line, winding.id)
    mains = mains_of(bench)
    tap = tap_of(bench, mains)
    nominal = abs(winding.volts or 0.0)
    expected = nominal if tap is None else scaled(nominal, mains.volts, tap.volts)
    off = rule("volts-off")
    title = f"{shown(nominal, 'V')} as drawn, on mains of {mains.told}"
    bounds = (rule_bound("volts-off", expected * (1 - off), expected * (1 + off), title),)
    if value is None:
        says = f"Measure {winding.id} with the valves out: about {shown(expected, 'V')}."
    else:
        says = f"{winding.id} gives {shown(value, 'V')}, {against(value, bounds, 'V')}."
    return tell(
        bench,
        line,
        at=winding.id,
        value=value,
        bounds=bounds,
        expected=expected,
        says=says,
        works="drawn · mains / tap",
        readings=(bench.reading(line, winding.id), mains.reading),
    )


def _impossible(bench: Bench, line: str, at: str, got: Got) -> Line:
    return tell(
        bench,
        line,
        at=at,
        judgement=Judgement.IMPOSSIBLE,
        says=got.wrong,
        readings=got.readings,
    )


def _more(bench: Bench, line: str, own: list[str]) -> list[str]:
    return [at for at in bench.places(line) if at not in own]
