"""A part's value as it is written in a circuit: '100k', '22n', '4k7', '1Meg', or a plain number.

One letter stands for two things: SPICE reads ``M`` and ``m`` alike as milli, the trade writes
``1M`` for a megohm.  Here ``m`` is milli and ``M`` mega where nothing else can be meant; where both
could be (a capital M on anything that is no resistance, a small m on a resistance or a capacitance)
the value is refused and both ways to write it are said.  ``Meg`` is always mega.
"""

from __future__ import annotations

import re
from math import isfinite

from ...dossier.limits import MAX_NUMBER, visible
from ...dossier.values import Fault

EXAMPLES = {
    "ohm": '"100k", "4k7", "1Meg", "470"',
    "F": '"22n", "0.022u", "250p", 2.2e-8',
    "H": '"10", "350m", "10u"',
    "V": '"1", "250", "-38"',
    "A": '"1", "35m"',
    "W": '"20", "500m"',
    "Hz": '"1k", "82"',
    "S": '"1.6m", "0.0016"',
    "1": '"0.998", "-3.5", "10 %"',
    "dB": '"31.5", "-6"',
}
"""How a value of each unit is written."""

_FACTORS = {
    "f": 1e-15,
    "p": 1e-12,
    "n": 1e-9,
    "u": 1e-6,
    "m": 1e-3,
    "": 1.0,
    "k": 1e3,
    "K": 1e3,
    "M": 1e6,
    "meg": 1e6,
    "G": 1e9,
}
_SYMBOLS = {"ohm": ("ohms", "ohm", "Ω", "R"), "1": ("%",), "Hz": ("Hz",), "dB": ("dB",)}
_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_PLAIN = re.compile(rf"({_NUMBER})\s*([^\d\s.][^\d\s]*)?", re.ASCII)
_LETTER_AS_POINT = re.compile(r"([+-]?\d{1,9})([pnumkKMRGVFH])(\d{1,9})", re.ASCII)
_MAX_LENGTH = 40


def figure(text: str, unit: str) -> float | Fault:
    """``text`` as a value in ``unit`` (a key of :data:`EXAMPLES`), or what is wrong with it.

    >>> figure("4k7", "ohm"), figure("22n", "F"), figure("1M", "ohm")
    (4700.0, 2.2e-08, 1000000.0)
    >>> figure("1m", "ohm").found
    '"1m" could be 1 milliohm or 1 megohm'
    """
    said = f'"{visible(text.strip(), _MAX_LENGTH)}"'
    accepted = f"a value such as {EXAMPLES[unit]}"
    plain = text.strip().replace("µ", "u").replace("μ", "u").replace("Ω", "Ω")
    match = _LETTER_AS_POINT.fullmatch(plain) or _PLAIN.fullmatch(plain)
    if not plain or len(plain) > _MAX_LENGTH or match is None:
        return Fault(f"{said} is no value", accepted)
    if match.re is _LETTER_AS_POINT:
        digits, rest = f"{match[1]}.{match[3]}", match[2]
        rest = "" if rest in "RVFH" else rest
    else:
        digits, rest = match[1], match[2] or ""
    if rest == "%" and unit == "1":
        return _checked(float(digits) / 100.0, said, accepted)
    prefix = _prefix(rest, unit)
    if prefix.lower() == "meg":
        prefix = "meg"
    doubt = _doubt(prefix, unit, digits)
    if doubt:
        return Fault(f"{said} could be {doubt[0]}", doubt[1])
    factor = _FACTORS.get(prefix)
    if factor is None:
        return Fault(f'{said}: "{visible(rest, 10)}" is no suffix of it', accepted)
    # dividing by a whole power of ten is exact where multiplying by 1e-9 is not
    number = float(digits)
    value = number / round(1.0 / factor) if factor < 1.0 else number * factor
    return _checked(value, said, accepted)


def _checked(value: float, said: str, accepted: str) -> float | Fault:
    if not isfinite(value) or abs(value) > MAX_NUMBER:
        return Fault(f"{said} is more than any amp has", accepted)
    return value


def _prefix(rest: str, unit: str) -> str:
    for symbol in _SYMBOLS.get(unit, (unit,)):
        if rest.lower() == symbol.lower():
            return ""
        if rest.endswith(symbol) and len(rest) > len(symbol):
            return rest[: -len(symbol)]
    return rest


def _doubt(prefix: str, unit: str, digits: str) -> tuple[str, str] | None:
    """What a lone M may mean, and how to write either."""
    if prefix == "m" and unit == "ohm":
        found = f"{digits} milliohm or {digits} megohm"
    elif prefix in ("m", "M") and unit == "F":
        found = f"{digits} millifarad or, as on old parts, {digits} microfarad"
        return found, f'"{digits}u" for microfarad, "{digits}e-3" for millifarad'
    elif prefix == "M" and unit not in ("ohm", "Hz"):
        found = f"{digits} mega or, as SPICE reads it, {digits} milli"
    else:
        return None
    return found, f'"{digits}Meg" for mega, "{digits}e-3" for milli'
