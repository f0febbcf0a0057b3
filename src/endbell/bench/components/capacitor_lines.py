"""Lines of capacitors: value, series resistance, leakage."""

from __future__ import annotations

from ..circuit import Capacitor
from ..lines import Bound, Judgement, Line, judged
from ..readings import Bench
from ..telling import against, cannot_be, named, percent, shown, tell
from .limits_of_parts import drift, electrolytic_leakage, esr_at_most
from .resistor_lines import rule, rule_bound

_ELECTROLYTIC = {"filter", "bypass", "bias"}  # uses that electrolytics are fitted for
_ASKED = {
    "capacitor-farad": _ELECTROLYTIC,
    "capacitor-esr": _ELECTROLYTIC,
    "capacitor-leakage": {"filter", "bias", "coupling"},
}


def capacitor_lines(bench: Bench) -> tuple[Line, ...]:
    """What the drawing's capacitors ask for by their use, and all else that was measured."""
    drawn = {c.id: c for c in bench.circuit.capacitors}
    found: list[Line] = []
    for line, uses in _ASKED.items():
        read = bench.places(line)
        asked = [at for at, c in drawn.items() if c.use in uses or at in read]
        for at in (*asked, *(at for at in read if at not in drawn)):
            found.append(_TELL[line](bench, at, drawn.get(at)))
    return tuple(found)


def _farad(bench: Bench, at: str, drawn: Capacitor | None) -> Line:
    line = "capacitor-farad"
    value = bench.value(line, at)
    bounds: tuple[Bound, ...] = ()
    if drawn is not None:
        title = f"{shown(drawn.farad, 'F')}, {drawn.tolerance * 100:g} %"
        low, high = drawn.farad * (1 - drawn.tolerance), drawn.farad * (1 + drawn.tolerance)
        source, confidence = bench.circuit.source, bench.circuit.confidence
        bounds = (Bound(low, high, title, source, confidence),)
    says = f"Measure {named(at)}: {shown(drawn.farad, 'F')}." if drawn else f"Measure {named(at)}."
    if value is not None and not cannot_be(bench.kinds[line], value):
        says = f"{named(at)} is {shown(value, 'F')}, {against(value, bounds, 'F')}"
        if drawn:
            says += f"; {percent(drift(value, drawn.farad))} off its marking"
        says += "." + _of_value(judged(value, bounds), drawn)
    return _told(bench, line, at, value, bounds, says, drawn.farad if drawn else None, "")


def _of_value(found: Judgement, drawn: Capacitor | None) -> str:
    dry = drawn is not None and drawn.use in _ELECTROLYTIC
    if found is Judgement.LOW:
        return " It has dried out." if dry else " It has opened in part, or a leg is not lifted."
    if found is Judgement.HIGH:
        return " A leaky one reads high: look at its leakage before its value."
    return ""


def _esr(bench: Bench, at: str, drawn: Capacitor | None) -> Line:
    line = "capacitor-esr"
    value = bench.value(line, at)
    bounds: tuple[Bound, ...] = ()
    works = ""
    if drawn is not None and drawn.use in _ELECTROLYTIC:
        most = esr_at_most(drawn.farad, rule("esr-tan"), rule("esr-hertz"))
        bounds = (rule_bound("esr-tan", None, most),)
        works = f"tan δ/(2πf·C) with {rule('esr-tan'):g} at {rule('esr-hertz'):g} Hz"
    says = f"Measure the series resistance of {named(at)}."
    if value is not None:
        says = f"{named(at)} has {shown(value, 'ohm')} in series, {against(value, bounds, 'ohm')}."
    return _told(bench, line, at, value, bounds, says, None, works)


def _leakage(bench: Bench, at: str, drawn: Capacitor | None) -> Line:
    line = "capacitor-leakage"
    value = bench.value(line, at)
    bounds: tuple[Bound, ...] = ()
    works = ""
    if drawn is not None and drawn.use == "coupling":
        bounds = (rule_bound("coupling-leak", None, rule("coupling-leak")),)
        works = "what leaks lifts the grid of the next valve"
    elif drawn is not None and drawn.volts and drawn.use in _ELECTROLYTIC:
        known = electrolytic_leakage(drawn.farad, drawn.volts)
        if known is not None:
            most, source = known
            title = f"{shown(drawn.farad, 'F')} at {shown(drawn.volts, 'V')} by JAN-C-62"
            bounds = (Bound(None, most, title, source, "published"),)
            works = "k·C + 0.3 mA, C in µF, k by the rated voltage"
    says = f"Measure the leakage of {named(at)} at its rated voltage."
    if value is not None:
        says = f"{named(at)} leaks {shown(value, 'A')}, {against(value, bounds, 'A')}."
        if judged(value, bounds) is Judgement.HIGH and drawn is not None:
            again = "Reform it slowly and look again, or replace it."
            says += f" {again}" if drawn.use in _ELECTROLYTIC else " Replace it."
    return _told(bench, line, at, value, bounds, says, None, works)


def _told(
    bench: Bench,
    line: str,
    at: str,
    value: float | None,
    bounds: tuple[Bound, ...],
    says: str,
    expected: float | None,
    works: str,
) -> Line:
    return tell(
        bench,
        line,
        at=at,
        value=value,
        bounds=bounds,
        expected=expected,
        says=says,
        works=works,
        readings=(bench.reading(line, at),),
    )


_TELL = {"capacitor-farad": _farad, "capacitor-esr": _esr, "capacitor-leakage": _leakage}
