"""What a technician writes, as a figure in SI units: '4k7', '0.022u', '2,2 mA', '8R2', '-12.5 V'.

The units themselves are pint's, from ``data/units/units.txt``; pint is imported at the first text
that has a unit in it, so that nothing else waits for it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib.resources import as_file, files
from typing import Any, cast

from ..dossier.limits import MAX_NUMBER, visible
from ..dossier.values import Fault
from .numbers import read_number

MAX_LENGTH = 60  # characters: no meter shows more

# Words for a unit's quantity, and how such readings are written.
_WAYS = {
    "V": ("a voltage", '"12.5 V", "120 mV", "6V3"'),
    "A": ("a current", '"35 mA", "0.5 A", "250 uA"'),
    "ohm": ("a resistance", '"8.2k", "4k7", "0.08 ohm", "1M"'),
    "s": ("a time", '"2.5 s", "300 ms", "3 min"'),
    "W": ("a power", '"20 W", "350 mW"'),
    "J": ("an energy", '"12 J"'),
    "F": ("a capacitance", '"0.022u", "470 nF", "20 uF"'),
    "H": ("an inductance", '"12 H", "350 mH"'),
    "Hz": ("a frequency", '"1 kHz", "82 Hz"'),
    "dB": ("a level in decibels", '"-72 dB"'),
    "m": ("a length", '"1.8 m", "180 cm"'),
    "K": ("a temperature", '"22 °C", "72 °F", "295 K"'),
    "1": ("a plain number", '"3", "0.05", "5 %"'),
}
_PINT = {"1": "dimensionless", "dB": "decibel", "K": "kelvin"}

_MULTIPLIERS = {
    "p": "1e-12",
    "n": "1e-9",
    "u": "1e-6",
    "m": "1e-3",
    "k": "1e3",
    "K": "1e3",
    "M": "1e6",
    "meg": "1e6",
    "Meg": "1e6",
    "MEG": "1e6",
    "G": "1e9",
}
_SPELLINGS = str.maketrans(
    {"−": "-", "–": "-", "μ": "µ", "Ω": "Ω", "\xa0": " ", "\u202f": " ", "\u2009": " "}
)
_LETTER_AS_POINT = re.compile(r"([+-]?\d{1,9})([pnuµmkKMGRVAFH])(\d{1,9})\s*(.*)")
_FIGURE = re.compile(r"([+-]?[\d.,' ]*\d[.,]?(?:[eE][+-]?\d{1,3}(?![\d.,]))?)\s*(.*)")
_HOW_MEASURED = re.compile(r"(?i)(?<![A-Za-z])(?:t?rms|dc|ac)$|(?<=[VvAa])(?:t?rms|dc|ac)$|[~=]$")
_PEAK = re.compile(r"(?i)(?:pk-?pk|p-?p|peak|pk)$")
_UNIT = re.compile(r"[A-Za-zµΩ]{1,20}")
_OVER = ("ol", "o.l", "o.l.", "over", "overload", "overrange", "open", "inf", "infinity", "∞")


@dataclass(frozen=True, slots=True)
class Measure:
    """A figure in the SI unit asked for. ``relation``: '>' or '<' where the meter showed no more
    than that; the true figure lies beyond."""

    value: float
    relation: str = ""


def measure(text: str, unit: str) -> Measure | Fault:
    """``text`` as a figure in ``unit`` (an SI symbol of :data:`endbell.bench.kinds.UNITS`).

    A bare figure is taken in ``unit``, a bare prefix as a multiple of it ('8.2k').  What can't be a
    figure of that unit comes back as a fault: what was found, what would be accepted.

    >>> measure("4k7", "ohm"), measure("2,2 mA", "A").value, measure("0.022u", "F").value
    (Measure(value=4700.0, relation=''), 0.0022, 2.2e-08)
    """
    accepted = f"{_WAYS[unit][0]}, written {_WAYS[unit][1]}"
    said = f'"{visible(text.strip(), 40)}"'
    if not text.strip():
        return Fault("nothing is written", accepted)
    if len(text) > MAX_LENGTH:
        return Fault(f"a text of {len(text):,} characters: {said}", accepted)
    plain = text.translate(_SPELLINGS).strip()
    relation = plain[0] if plain[0] in "<>" else ""
    plain = re.sub(r"^([+-]) +", r"\1", plain[len(relation) :].strip())
    if plain.lower().lstrip("+-") in _OVER:
        return Fault(
            f"{said}: the meter was over its range",
            f'the highest it can show, as ">{_WAYS[unit][1].split(", ")[-1].strip(chr(34))}", '
            'or result = "not-possible" with a note',
        )
    if plain.lower().lstrip("+-") == "nan":
        return Fault(f"{said} is not a number", accepted)
    split = _split(plain, unit)
    if split is None:
        return Fault(f"{said} is no figure with a unit", accepted)
    digits, rest = split
    number = read_number(digits)
    if isinstance(number, str):
        return Fault(f"{said}: {number}", accepted)
    figure = _with_unit(number, rest, unit, said, accepted)
    if isinstance(figure, Fault):
        return figure
    if not math.isfinite(figure) or abs(figure) > MAX_NUMBER:
        return Fault(f"{said} is more than any amp shows", accepted)
    return Measure(figure, relation)


def spread(raw: str | float, value: float, written: str, unit: str) -> float | Fault:
    """An uncertainty in ``unit``: '2 %' of ``value``, a text with its own unit, or a bare number in
    the ``written`` unit (in ``unit`` where that is empty)."""
    text = number_text(raw) if not isinstance(raw, str) else raw.strip()
    if text.endswith("%") and unit != "1":
        share = measure(text, "1")
        found = share if isinstance(share, Fault) else Measure(abs(value) * share.value)
    else:
        if written and not text[-1:].isalpha():
            text = f"{text} {written}"
        found = measure(text, unit)
        if not isinstance(found, Fault) and unit == "K" and any(c in text for c in "CF"):
            nought = measure(re.sub(r"[\d.,]+", "0", text, count=1), unit)
            found = nought if isinstance(nought, Fault) else Measure(found.value - nought.value)
    if isinstance(found, Fault):
        return found
    if found.value < 0:
        return Fault(f"an uncertainty of {text}", "one standard deviation, not below 0")
    return found.value


def number_text(raw: float) -> str:
    """A TOML number as text, without an exponent's surprises."""
    return format(Decimal(repr(raw)), "f") if math.isfinite(raw) else str(raw)


def _split(plain: str, unit: str) -> tuple[str, str] | None:
    """The digits, and what stands behind them: ('4.7', 'k'), ('8.2', 'kohm')."""
    letter = _LETTER_AS_POINT.fullmatch(plain)
    if letter:
        whole, point, part, rest = letter.groups()
        if point == "R" and not rest:
            rest = "ohm"
        elif point in "VAFH" and not rest:
            rest = point
        elif point not in "RVAFH":
            rest = point + rest
        else:
            return None
        return f"{whole}.{part}", rest
    match = _FIGURE.fullmatch(plain)
    return (match[1].strip(), match[2].strip()) if match else None


def _with_unit(number: Decimal, rest: str, unit: str, said: str, accepted: str) -> float | Fault:
    if _PEAK.search(rest):
        return Fault(
            f"{said} is a peak value", f"{accepted}: rms or dc, as a meter shows it (no peak value)"
        )
    rest = _bare(rest)
    if not rest:
        return float(number)
    if rest == "%":
        rest = "percent"
    if rest.replace("µ", "u") in _MULTIPLIERS and unit not in ("K", "1", "dB", "m"):
        return float(number * Decimal(_MULTIPLIERS[rest.replace("µ", "u")]))
    if unit == "F" and rest in ("mF", "MF"):
        return Fault(
            f"{said}: on old parts {rest} is microfarad, today millifarad",
            'which is meant, written "50 uF" or "50000 uF"',
        )
    if unit == "K":
        rest = {"C": "degC", "F": "degF"}.get(rest.removeprefix("°"), rest)
    if not _UNIT.fullmatch(rest):
        return Fault(f'{said}: "{visible(rest, 20)}" is no unit', accepted)
    factor = _converter(rest, unit)
    if isinstance(factor, str):
        return Fault(f"{said}: {factor}", accepted)
    return factor(number)


def _bare(rest: str) -> str:
    """A unit without how it was measured: 'mV rms', 'Vdc', 'V~' are volts either way."""
    while True:
        shorter = _HOW_MEASURED.sub("", rest).strip()
        if shorter == rest:
            return "".join(rest.split())
        rest = shorter


@cache
def _registry() -> Any:
    import pint

    with as_file(files(__package__ or "endbell.bench") / "data" / "units" / "units.txt") as path:
        return cast("Any", pint).UnitRegistry(str(path), autoconvert_offset_to_baseunit=True)


@cache
def _converter(written: str, unit: str) -> Callable[[Decimal], float] | str:
    """From the ``written`` unit to ``unit``; or why there is no way, as half a sentence."""
    import pint

    registry = _registry()
    target = _PINT.get(unit, unit)

    def convert(figure: float) -> float:
        return float(registry.Quantity(figure, written).to(target).magnitude)

    try:
        nought, one, two = convert(0.0), convert(1.0), convert(2.0)
    except pint.DimensionalityError:
        return f"{visible(written, 20)} is {_quantity(written)}, not {_WAYS[unit][0]}"
    except (pint.PintError, ValueError, TypeError, AttributeError):
        return f'"{visible(written, 20)}" is no unit known here'
    if nought == 0.0 and math.isclose(two, 2 * one, rel_tol=1e-12):
        scale = Decimal(repr(one))  # by tens: 470 n is 4.7e-07, not 4.7000000000000005e-07
        return lambda number: float(number * scale)
    if math.isclose(two - one, one - nought, rel_tol=1e-9):
        scale, offset = Decimal(f"{one - nought:.12g}"), Decimal(f"{nought:.12g}")
        return lambda number: float(number * scale + offset)
    return lambda number: convert(float(number)) if abs(number) < 1000 else math.inf


def _quantity(written: str) -> str:
    registry = _registry()
    for symbol, (words, _) in _WAYS.items():
        if registry.Quantity(1, written).is_compatible_with(_PINT.get(symbol, symbol)):
            return words
    return "another quantity"
