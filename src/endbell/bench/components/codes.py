"""Values printed in letters and digits: 4K7, R47, 1M0J, 473K, 4n7 (IEC 60062, BS 1852)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import floor, log10

from ..facts import facts
from ..figures import positive

_OHM = {"R": 0, "E": 0, "K": 3, "M": 6, "G": 9, "T": 12, "L": -3}
_FARAD = {"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "F": 0}


@dataclass(frozen=True, slots=True)
class Coded:
    """A printed value in ohm or farad, and its tolerance as a fraction (None: not printed)."""

    value: float
    tolerance: float | None


def read_ohm(text: str) -> Coded:
    """A resistance as printed: the letter stands at the decimal point, a tolerance letter last.

    Raises ValueError with what would be accepted.

    >>> read_ohm("4K7"), read_ohm("R47J"), read_ohm("33KK")
    (Coded(value=4700.0, tolerance=None), Coded(value=0.47, tolerance=0.05), Coded(value=33000.0, \
tolerance=0.1))
    """
    code = text.strip()
    if re.fullmatch(r"\d*m\d*[A-Za-z]?", code):
        raise ValueError(f"{text!r}: m is not said; M for megohms, L for milliohms")
    found = _coded(code.upper(), _OHM)
    if found is None:
        raise ValueError(f"{text!r} is no resistance code: such as 4K7, 470R, R47, 1M0J, 33KK")
    return found


def read_farad(text: str) -> Coded:
    """A capacitance as printed: 4n7, p33, 47n, 100p, or three digits in pF as 473K.

    Raises ValueError with what would be accepted.
    """
    code = text.strip()
    digits = re.fullmatch(r"(\d\d)(\d)([A-Z])?", code)
    if digits:
        # the third digit is a power of ten; 8 and 9 are -2 and -1
        power = {"8": -2, "9": -1}.get(digits[2], int(digits[2]))
        return Coded(float(f"{digits[1]}e{power - 12}"), _tolerance(digits[3], text))
    found = _coded(code, _FARAD)
    if found is None:
        raise ValueError(f"{text!r} is no capacitance code: such as 4n7, 47n, p33, 22µ, 473K")
    return found


def _coded(code: str, letters: dict[str, int]) -> Coded | None:
    found = re.fullmatch(rf"(\d*)([{''.join(letters)}])(\d*)([A-Z])?", code)
    if found is None or not (found[1] or found[3]):
        return None
    value = float(f"{found[1] or '0'}.{found[3] or '0'}e{letters[found[2]]}")
    return Coded(value, _tolerance(found[4], code))


def _tolerance(letter: str | None, text: str) -> float | None:
    if not letter:
        return None
    rows = {row["letter"]: row["percent"] for row in facts("components", "tolerance_letters")}
    if letter not in rows:
        raise ValueError(f"{text!r}: no tolerance letter {letter}; there are {', '.join(rows)}")
    return float(f"{rows[letter]}e-2")


def ohm_code(ohm: float) -> str:
    """A resistance as it would be printed, to three digits: ``ohm_code(4700)`` is '4K7'."""
    positive("resistance", ohm)
    rounded = float(f"{ohm:.2e}")
    power = min(max(3 * floor(log10(rounded) / 3), 0), 9)
    letter = {0: "R", 3: "K", 6: "M", 9: "G"}[power]
    figure = float(f"{rounded / 10.0**power:.3g}")
    whole, _, rest = f"{figure:.10f}".partition(".")
    rest = rest.rstrip("0")
    return f"{'' if whole == '0' else whole}{letter}{rest}"
