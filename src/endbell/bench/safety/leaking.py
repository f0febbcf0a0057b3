"""Lines of the leakage: measured as a current or across a network, in both polarities."""

from __future__ import annotations

from dataclasses import replace

from ..limits import bounds_for
from ..lines import Judgement, Line, judged
from ..readings import Bench, Reading
from ..telling import against, cannot_be, shown, tell
from .leakage import leakage
from .standing import mains_of, network_of, practice, protection

_SIDES = (("leakage-normal", "as plugged"), ("leakage-reversed", "with line and neutral changed"))


def leakage_lines(bench: Bench) -> tuple[Line, ...]:
    """Both polarities and the larger of the two: with one missing there is no result."""
    sides = tuple(_side(bench, line, words) for line, words in _SIDES)
    return (*sides, _both(bench, sides))


def _side(bench: Bench, line: str, words: str) -> Line:
    value, works, reading, wrong = _amps(bench, line)
    kind = protection(bench)
    bounds = bounds_for(line, practice(bench), kind)
    if value is None:
        says = wrong or f"Measure the leakage {words}."
    else:
        says = f"{shown(value, 'A')} {words}, {against(value, bounds, 'A')}."
        other = next(name for name, _ in _SIDES if name != line)
        if _amps(bench, other)[0] is None:
            says += " No pass yet: the other polarity is still to be measured."
        if bench.circuit.protection == "I" and kind == "0":
            says += " Held to the limit of an amp without earth: its cord has none."
    return tell(
        bench,
        line,
        value=value,
        judgement=Judgement.IMPOSSIBLE if wrong else None,
        bounds=() if wrong else bounds,
        says=says,
        works=works,
        readings=(reading,),
    )


def _amps(bench: Bench, line: str) -> tuple[float | None, str, Reading | None, str]:
    """Amperes of a side, how they came about, the reading, and what is wrong with it ('')."""
    own = bench.reading(line)
    if own is not None and own.value is not None:
        return own.value, "read as a current", own, ""
    across = f"{line}-volts"
    for at in bench.places(across):
        reading = bench.reading(across, at)
        if reading is None or reading.value is None:
            continue
        wrong = cannot_be(bench.kinds[across], reading.value)
        if wrong:
            return None, "", reading, wrong
        network = network_of(bench, at)
        if network is None:
            return None, "", reading, f"No measuring network {at!r} is known: us or iec."
        mains = mains_of(bench)
        amps = leakage(network, reading.value, mains.hertz)
        how = "U2 / 500 Ω" if network.body_ohm else "V·√(1 + (2πf·R·C)²)/R"
        works = (
            f"{shown(reading.value, 'V')} across {network.title} at {mains.hertz:g} Hz: {how}; "
            f"{network.source}"
        )
        return amps, works, reading, ""
    return None, "", None, ""


def _both(bench: Bench, sides: tuple[Line, ...]) -> Line:
    line = "leakage-both"
    bounds = bounds_for(line, practice(bench), protection(bench))
    read = [
        side
        for side in sides
        if side.value is not None and side.judgement is not Judgement.IMPOSSIBLE
    ]
    if not read:
        return tell(bench, line, bounds=bounds, says="Neither polarity is measured.")
    worst = max(read, key=lambda side: side.value or 0.0)
    value = worst.value or 0.0
    judgement: Judgement | None = None
    says = f"The larger of both is {shown(value, 'A')}, {against(value, bounds, 'A')}."
    if len(read) < len(sides):
        taken = {side.id for side in read}
        missing = next(words for name, words in _SIDES if name not in taken)
        says = f"One polarity alone is no test: measure {missing} as well."
        if judged(value, bounds) is not Judgement.HIGH:
            judgement = Judgement.NOT_MEASURED
        else:
            says = f"{shown(value, 'A')} in one polarity is too much already. {says}"
    merged = tuple(n for side in read for n in side.readings)
    told = tell(bench, line, value=value, judgement=judgement, bounds=bounds, says=says)
    return replace(told, readings=merged, works="the larger of the two")
