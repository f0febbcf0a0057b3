"""Resistor colour code, three to six bands, both ways round and worn (IEC 60062).

Bands are names of colours as seen: 'brown', 'gray', 'VT'; ``?`` a band that cannot be made out,
``red?`` one that is worn (what it may have been is weighed), ``red|orange`` one of these.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import product
from math import prod

from ..facts import fact, facts
from .e_series import SERIES, is_preferred, series_of

_MOST = 5000  # readings looked at: more than two unreadable bands say nothing


@dataclass(frozen=True, slots=True)
class Marked:
    """One thing a resistor's bands can mean. ``tolerance``: fraction; ``tcr``: 1/K, None without a
    sixth band; ``series``: the series the value is preferred in, '' if in none; ``weight``: among
    all readings, summing to 1.
    """

    ohm: float
    tolerance: float
    tcr: float | None
    bands: tuple[str, ...]
    turned: bool
    series: str
    weight: float


def read_bands(bands: Sequence[str]) -> tuple[Marked, ...]:
    """Everything three to six bands can mean, likeliest first; one black band is a link.

    Weights are common practice (``data/components/reading_weights.csv``): preferred values of the
    own tolerance first, the way round it was written down before the other.  Raises ValueError,
    with what would be accepted, for a colour that is none, a wrong number of bands, too many
    that cannot be made out, or bands that fit no resistor.

    >>> best = read_bands(["yellow", "violet", "red", "gold"])[0]
    >>> best.ohm, best.tolerance
    (4700.0, 0.05)
    """
    choices = [_choices(band) for band in bands]
    if len(bands) == 1 and bands[0] and _name(bands[0]) == "black":
        return (Marked(0.0, 0.0, None, ("black",), False, "", 1.0),)
    if not 3 <= len(bands) <= 6:
        raise ValueError(f"{len(bands)} bands: three to six are a resistor, one black is a link")
    if prod(len(choice) for choice in choices) > _MOST:
        raise ValueError("too many bands that cannot be made out: at most two '?' can be weighed")
    found: dict[tuple[float, float, float | None, bool], Marked] = {}
    for turned in (False, True):
        for pick in product(*(reversed(choices) if turned else choices)):
            one = _meaning(tuple(name for name, _ in pick), turned)
            if one is None:
                continue
            weight = prod(w for _, w in pick) * _weight(one)
            key = (one.ohm, one.tolerance, one.tcr, turned)
            known = found.get(key)
            total = weight + (known.weight if known else 0.0)
            best = one if known is None or weight > known.weight else known
            found[key] = _weighed(best, total)
    if not found:
        raise ValueError(
            f"{', '.join(bands)} fit no resistor either way round: digits first, then the "
            "multiplier, then the tolerance"
        )
    whole = sum(one.weight for one in found.values())
    ranked = sorted(found.values(), key=lambda one: (-one.weight, one.turned, one.ohm))
    return tuple(_weighed(one, one.weight / whole) for one in ranked)


def _weighed(one: Marked, weight: float) -> Marked:
    return Marked(one.ohm, one.tolerance, one.tcr, one.bands, one.turned, one.series, weight)


def bands_of(ohm: float, tolerance: float, digits: int = 2) -> tuple[str, ...]:
    """The bands of a resistor: ``digits`` 2 or 3, multiplier, tolerance (none for 20 %).

    Raises ValueError where the value has more digits or is out of the code's range.
    """
    if digits not in (2, 3):
        raise ValueError(f"{digits} digits: the code has 2 or 3")
    if not ohm > 0:
        raise ValueError(f"{ohm:g} ohm has no bands: more than 0 is needed")
    written = f"{ohm:.{digits - 1}e}"
    mantissa, exponent = written.split("e")
    if abs(float(written) / ohm - 1) > 1e-9:
        raise ValueError(f"{ohm:g} ohm has more than {digits} digits")
    places = int(exponent) - (digits - 1)
    names = [_by_digit()[d] for d in mantissa.replace(".", "")]
    multiplier = next((c for c, power in _powers().items() if power == places), None)
    if multiplier is None:
        raise ValueError(f"{ohm:g} ohm is beyond the code")
    closing = next((c for c, t in _tolerances().items() if abs(t - tolerance) < 1e-12), None)
    if closing is None:
        raise ValueError(f"a tolerance of {tolerance:.3%} has no colour")
    end = () if closing == "none" else (closing,)
    return (*names, multiplier, *end)


def read_body_end_dot(body: str, end: str, dot: str = "", ring: str = "") -> Marked:
    """The older marking: body first digit, end second, dot multiplier (the body's where unseen).

    ``ring``: gold or silver at the other end.  RMA and US practice of the 1930s and 40s.
    """
    names = (_name(body), _name(end), _name(dot or body))
    closing = _name(ring) if ring else "none"
    one = _meaning((*names, closing), False) if closing != "none" else _meaning(names, False)
    if one is None:
        raise ValueError(f"body {body}, end {end}, dot {dot or body} fit no resistor")
    return _weighed(one, 1.0)


def _meaning(names: tuple[str, ...], turned: bool) -> Marked | None:
    """What clear bands mean in that order; None where it cannot be."""
    count = 2 if len(names) <= 4 else 3
    digits = [_digits().get(name) for name in names[:count]]
    if None in digits or digits[0] == "0":
        return None
    power = _powers().get(names[count])
    closing = names[count + 1] if len(names) > count + 1 else "none"
    tolerance = _tolerances().get(closing)
    if power is None or tolerance is None:
        return None
    tcr = None
    if len(names) == 6:
        tcr = _coefficients().get(names[5])
        if tcr is None:
            return None
    ohm = float(f"{''.join(d or '' for d in digits)}e{power}")
    own = series_of(tolerance)
    order = (own, *(s for s in SERIES if s != own))
    series = next((s for s in order if is_preferred(ohm, s)), "")
    return Marked(ohm, tolerance, tcr, names, turned, series, 0.0)


def _weight(one: Marked) -> float:
    own = SERIES.index(series_of(one.tolerance))
    if not one.series:
        row = "no-series"
    else:
        at = SERIES.index(one.series)
        row = "own-series" if at == own else "coarser-series" if at < own else "other-series"
    weight = _weights()[row]
    if one.turned:
        weight *= _weights()["reversed"]
    if not _rules()["plain-low"] <= one.ohm <= _rules()["plain-high"]:
        weight *= _weights()["far-out"]
    if one.tolerance < _rules()["plain-tolerance"]:
        weight *= _weights()["close-tolerance"]
    return weight


def _choices(band: str) -> tuple[tuple[str, float], ...]:
    """What a band can be, with weights."""
    text = band.strip()
    if text == "?":
        return tuple((colour, 1.0) for colour in _known())
    if "|" in text:
        return tuple((_name(part), 1.0) for part in text.split("|"))
    if text.endswith("?"):
        seen = _name(text[:-1])
        worn = [r for r in facts("components", "worn_colours") if r["seen"] == seen]
        return ((seen, 1.0), *((r["meant"], float(r["weight"])) for r in worn))
    return ((_name(text), 1.0),)


def _name(text: str) -> str:
    word = text.strip()
    for row in facts("components", "colour_names"):
        if row["name"].lower() == word.lower():
            return row["colour"]
    if word.lower() not in _known():
        raise ValueError(f"no colour {text!r}: {', '.join(_known())}, or ? for one not made out")
    return word.lower()


@cache
def _known() -> tuple[str, ...]:
    return tuple(dict.fromkeys((*_digits(), *_powers())))


@cache
def _column(table: str) -> dict[str, str]:
    return {r["key"]: r["value"] for r in facts("components", "colours") if r["table"] == table}


@cache
def _digits() -> dict[str, str]:
    return _column("resistor_digit")


@cache
def _by_digit() -> dict[str, str]:
    return {digit: name for name, digit in _digits().items()}


@cache
def _powers() -> dict[str, int]:
    """Power of ten of every multiplier band: the digit's own, and those of metal and pink."""
    metal = {
        name: len(value.split(".")[1]) * -1 for name, value in _column("resistor_mult").items()
    }
    return {name: int(digit) for name, digit in _digits().items()} | metal


@cache
def _tolerances() -> dict[str, float]:
    return {name: float(f"{value}e-2") for name, value in _column("resistor_tol_pct").items()}


@cache
def _coefficients() -> dict[str, float]:
    return {name: float(f"{value}e-6") for name, value in _column("resistor_tcr").items()}


@cache
def _weights() -> dict[str, float]:
    return {row["id"]: float(row["weight"]) for row in facts("components", "reading_weights")}


@cache
def _rules() -> dict[str, float]:
    return {row["id"]: float(row["value"]) for row in facts("components", "rules")}


def tolerance_note(colour: str) -> str:
    """What has to be said of a tolerance colour: editions of the standard differ."""
    for row in facts("components", "colours"):
        if row["table"] == "resistor_tol_pct" and row["key"] == _name(colour):
            return row["note"]
    return ""


def preferred_note(one: Marked) -> str:
    """Whether the value is a preferred one, in words."""
    if one.series:
        return f"preferred in {one.series}"
    return fact("components", "reading_weights", "no-series")["words"]
