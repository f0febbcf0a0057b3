"""What a sheet says of a winding: its ratio, its resistance at 20 °C, its inductance, its volts.

Each with its spread, the readings it rests on, and how it was worked out.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from ..circuit import Circuit, Winding
from ..facts import fact
from ..lines import Bound
from ..readings import Bench, Reading
from ..telling import cannot_be, sentence, shown
from .copper import KELVIN, to_twenty
from .inductance import from_current, from_two
from .ratios import ratio_spread, turns_ratio


@dataclass(frozen=True, slots=True)
class Got:
    """A value of a winding in SI units, one standard deviation, its readings, its working.

    ``wrong``: a sentence where the readings cannot be; then ``value`` is None.
    """

    value: float | None
    spread: float
    readings: tuple[Reading, ...]
    works: str
    wrong: str = ""


def rule(name: str) -> float:
    """A number of ``data/transformers/rules.csv``."""
    return float(fact("transformers", "rules", name)["value"])


def rule_bound(name: str, low: float | None, high: float | None, title: str = "") -> Bound:
    """A bound that follows from a rule, with its source and confidence."""
    row = fact("transformers", "rules", name)
    return Bound(low, high, title or row["words"], row["source"], row["confidence"])


def spread_of(reading: Reading) -> float:
    """One standard deviation of a reading: its own, else what a meter usually is off."""
    return reading.spread or abs(reading.value or 0.0) * rule("meter-off")


def primary_of(circuit: Circuit, winding: Winding) -> Winding | None:
    """The primary of the transformer that a winding sits on."""
    return next(
        (w for w in circuit.windings if w.part == winding.part and w.use == "primary"), None
    )


def expected_ratio(circuit: Circuit, winding: Winding) -> float | None:
    """Primary over winding turns as drawn: by the turns, else by the voltages."""
    primary = primary_of(circuit, winding)
    if winding.use == "primary":
        return None
    if winding.turns and winding.turns > 0:
        return (primary.turns if primary and primary.turns else 1.0) / winding.turns
    if primary and primary.volts and winding.volts:
        return primary.volts / abs(winding.volts)
    return None


def ratio_of(bench: Bench, at: str) -> Got | None:
    """The turns ratio as read, or from the two voltages."""
    own = bench.reading("winding-ratio", at)
    if own is not None:
        return _own(bench, own, "read as a ratio")
    first = bench.reading("ratio-primary-volts", at)
    second = bench.reading("ratio-secondary-volts", at)
    if first is None or second is None or first.value is None or second.value is None:
        return None
    wrong = _wrong(bench, first) or _wrong(bench, second)
    if wrong:
        return Got(None, 0.0, (first, second), "", wrong)
    value = turns_ratio(first.value, second.value)
    spread = ratio_spread(first.value, second.value, spread_of(first), spread_of(second))
    works = f"{shown(first.value, 'V')} / {shown(second.value, 'V')}, nothing connected"
    return Got(value, spread, (first, second), works)


def ohm_of(bench: Bench, at: str) -> Got | None:
    """The winding's resistance, brought to 20 °C (IEC 60028)."""
    own = bench.reading("winding-ohm", at)
    if own is None or own.value is None:
        return None
    wrong = _wrong(bench, own)
    if wrong:
        return Got(None, 0.0, (own,), "", wrong)
    try:
        value = to_twenty(own.value, bench.ambient)
    except ValueError as error:
        return Got(None, 0.0, (own,), "", sentence(error))
    works = (
        f"{shown(own.value, 'ohm')} at {bench.ambient - KELVIN:.1f} °C is "
        f"{shown(value, 'ohm', 4)} at 20 °C: R/(1 + 0.00393·(T - 20)), IEC 60028"
    )
    return Got(value, spread_of(own) * (value / own.value if own.value else 1.0), (own,), works)


def henry_of(bench: Bench, at: str) -> Got | None:
    """The inductance as read, or from voltage, current and frequency with the copper taken out."""
    own = bench.reading("winding-inductance", at)
    if own is not None:
        return _own(bench, own, "read from a bridge")
    first, second = _set(bench, at), _set(bench, f"{at}@2")
    if first is None:
        return None
    rests = (*first, *(second or ()))
    wrong = next((words for reading in rests if (words := _wrong(bench, reading))), "")
    if wrong:
        return Got(None, 0.0, rests, "", wrong)
    volts, amps, hertz = (reading.value or 0.0 for reading in first)
    ohm = bench.reading("winding-ohm", at)
    try:
        if second is not None:
            again = tuple(reading.value or 0.0 for reading in second)
            coil = from_two((volts, amps, hertz), (again[0], again[1], again[2]))
            works = "L² = (Z2² - Z1²)/(ω2² - ω1²), from two frequencies"
        else:
            own_ohm = (ohm.value or 0.0) if ohm is not None and not _wrong(bench, ohm) else 0.0
            coil = from_current(volts, amps, hertz, own_ohm)
            works = "L = √((V/I)² - R²)/(2πf)"
            works += (
                "" if ohm is not None else "; the winding's resistance is not known: R taken as 0"
            )
    except ValueError as error:
        return Got(None, 0.0, rests, "", sentence(error))
    works += f"; at {shown(volts, 'V')} and {shown(hertz, 'Hz')}, with {shown(coil.ohm, 'ohm')}"
    share = hypot(spread_of(first[0]) / volts, spread_of(first[1]) / amps)
    return Got(coil.henry, coil.henry * share, rests, works)


def _set(bench: Bench, at: str) -> tuple[Reading, Reading, Reading] | None:
    volts, amps, hertz = (
        bench.reading(f"winding-test-{what}", at) for what in ("volts", "amps", "hertz")
    )
    if volts is None or amps is None or hertz is None:
        return None
    return volts, amps, hertz


def _own(bench: Bench, reading: Reading, works: str) -> Got:
    wrong = _wrong(bench, reading)
    if wrong:
        return Got(None, 0.0, (reading,), "", wrong)
    return Got(reading.value, spread_of(reading), (reading,), works)


def _wrong(bench: Bench, reading: Reading) -> str:
    """Why a reading cannot be; '' where it can."""
    return cannot_be(bench.kinds[reading.line], reading.value or 0.0)
