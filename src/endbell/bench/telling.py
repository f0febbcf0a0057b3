"""How lines are told: figures as a technician writes them, and readings that cannot be.

Small things that every subject needs and that know nothing of any one of them.
"""

from __future__ import annotations

from math import floor, isfinite, log10

from .lines import Bound, Judgement, Line, LineKind, judged
from .readings import Bench, Reading

_PREFIXES = {
    -12: "p",
    -9: "n",
    -6: "µ",
    -3: "m",
    0: "",
    3: "k",
    6: "M",
    9: "G",
}
_SYMBOLS = {"ohm": "Ω", "1": ""}
_PLAIN = {"1", "dB", "s"}  # no prefixes: a ratio, a level, a time


def shown(value: float, unit: str, digits: int = 3) -> str:
    """A figure with a sensible prefix: ``shown(4700, 'ohm')`` is '4.7 kΩ'.

    ``digits``: significant digits.  A value that is no number is told as it is.

    >>> shown(4.7e-5, "F"), shown(0.09, "ohm"), shown(252.96, "V")
    ('47 µF', '90 mΩ', '253 V')
    """
    symbol = _SYMBOLS.get(unit, unit)
    if not isfinite(value) or not (value == 0 or 1e-15 <= abs(value) < 1e15):
        return f"{value:.{digits}g} {symbol}".rstrip()
    rounded = _rounded(value, digits)
    power = 0 if unit in _PLAIN or rounded == 0 else 3 * floor(log10(abs(rounded)) / 3)
    power = min(max(power, min(_PREFIXES)), max(_PREFIXES))
    figure = _rounded(rounded / 10.0**power, digits)
    return f"{figure:.15g} {_PREFIXES[power]}{symbol}".rstrip()


def _rounded(value: float, digits: int) -> float:
    return float(f"{value:.{digits - 1}e}")


def percent(fraction: float) -> str:
    """A fraction as a signed percentage: ``percent(0.064)`` is '+6.4 %'."""
    return f"{fraction * 100:+.1f} %"


def named(at: str) -> str:
    """A place as it is told; a reading without one has none."""
    return at or "A part without a name"


def sentence(words: object) -> str:
    """Words (of an error) as a sentence: a capital letter, a full stop.

    >>> sentence(ValueError("copper at 400 °C is beyond the rule"))
    'Copper at 400 °C is beyond the rule.'
    """
    text = f"{words}".strip()
    return f"{text[:1].upper()}{text[1:].removesuffix('.')}." if text else ""


def cannot_be(kind: LineKind, value: float) -> str:
    """Why ``value`` (in the kind's unit) cannot be a reading of ``kind``; '' where it can.

    Swapped probes, a wrong unit, a slip of the pen: each in a sentence that says what would do.
    """
    if kind.lowest <= value <= kind.highest:
        return ""
    wanted = f"{shown(kind.lowest, kind.unit)} to {shown(kind.highest, kind.unit)}"
    if value != value:
        return f"{kind.title}: that is not a number; type what the meter shows, {wanted}."
    if not isfinite(value):
        top = shown(kind.highest, kind.unit)
        return (
            f"{kind.title}: over range is no figure; type the highest value the meter can show "
            f"(up to {top})."
        )
    if value < kind.lowest:
        if value < 0 <= kind.lowest:
            return (
                f"{kind.title} of {shown(value, kind.unit)} cannot be: were the probes swapped? "
                f"Possible is {wanted}."
            )
        return (
            f"{kind.title} of {shown(value, kind.unit)} cannot be: too small, is the unit right? "
            f"Possible is {wanted}."
        )
    return (
        f"{kind.title} of {shown(value, kind.unit)} cannot be: too large, is the unit right? "
        f"Possible is {wanted}."
    )


def tell(
    bench: Bench,
    line: str,
    *,
    at: str = "",
    value: float | None = None,
    judgement: Judgement | None = None,
    bounds: tuple[Bound, ...] = (),
    expected: float | None = None,
    spread: float | None = None,
    says: str = "",
    works: str = "",
    readings: tuple[Reading | None, ...] = (),
) -> Line:
    """A line of kind ``line``, judged by its ``bounds`` unless a ``judgement`` is given.

    A value that cannot be is told so, whatever else was to be said of it.  ``readings`` may hold
    None for those that were not taken.
    """
    kind = bench.kinds[line]
    if value is not None:
        wrong = cannot_be(kind, value)
        if wrong:
            judgement, bounds, says = Judgement.IMPOSSIBLE, (), wrong
            value = value if isfinite(value) else None
    return Line(
        id=line,
        title=kind.title,
        stage=kind.stage,
        unit=kind.unit,
        value=value,
        judgement=judged(value, bounds) if judgement is None else judgement,
        at=at,
        expected=expected,
        spread=spread,
        bounds=bounds,
        says=says,
        works=works,
        readings=tuple(dict.fromkeys(r.n for r in readings if r is not None)),
        caution=kind.caution,
    )


def usable(bench: Bench, line: str, at: str = "") -> float | None:
    """The value read at ``line`` and ``at`` if it is one that can be, else None.

    For values that other lines rest on: what cannot be is told at its own line and used nowhere.
    """
    value = bench.value(line, at)
    if value is None or cannot_be(bench.kinds[line], value):
        return None
    return value


def against(value: float, bounds: tuple[Bound, ...], unit: str) -> str:
    """What the limits say of ``value``, as the end of a sentence."""
    if not bounds:
        return "there is no limit to hold it against"
    judgement = judged(value, bounds)
    if judgement in (Judgement.LOW, Judgement.HIGH):
        broken = [b for b in bounds if judged(value, (b,)) is judgement]
        told = " and ".join(dict.fromkeys(_limit(bound, unit) for bound in broken))
        return f"too {judgement}: {told}"
    told = "; ".join(dict.fromkeys(_limit(bound, unit) for bound in bounds))
    if judgement is Judgement.WITHIN:
        ranges = all(b.low is not None and b.high is not None for b in bounds)
        return f"within {told}" if ranges else f"within limits: {told}"
    return f"check the standard before passing it: {told}, from memory"


def _limit(bound: Bound, unit: str) -> str:
    if bound.low is not None and bound.high is not None:
        span = f"{shown(bound.low, unit)} to {shown(bound.high, unit)}"
    elif bound.low is not None:
        span = f"at least {shown(bound.low, unit)}"
    elif bound.high is not None:
        span = f"at most {shown(bound.high, unit)}"
    else:
        span = "no figure"
    return f"{span} ({bound.title})"
