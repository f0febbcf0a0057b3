"""Checks by hand and ear that tell faults apart which no meter does: tapping, pushing, swapping.

Their lines and limits stand in ``data/lines/causes.csv`` and ``data/limits/causes.csv``.
"""

from __future__ import annotations

from ..limits import bounds_for
from ..lines import Judgement, Line
from ..readings import Bench
from ..telling import against, cannot_be, shown, tell
from .fitted import can_have

_TANK = ("tank-input-ohm", "tank-output-ohm")
_OHMS = ("heater-reference", "ground-joint", *_TANK)
_HEARD = (
    "cone-push",
    "tap-test",
    "stick-test",
    "noise-after-swap",
    "hum-swapped",
    "hum-with-volume",
    "oscilloscope",
)


def check_lines(bench: Bench) -> tuple[Line, ...]:
    """Every check that the amp can have, those not made yet included."""
    tank = _TANK if can_have(bench.circuit, "reverb") else ()
    asked = [line for line in (*_OHMS, *_HEARD) if line not in _TANK or line in tank]
    made = tuple(_check(bench, line) for line in asked)
    return (*made, *(() if _is_recorded(bench) else (_hum_order(bench),)))


def _check(bench: Bench, line: str) -> Line:
    kind = bench.kinds[line]
    value = bench.value(line)
    bounds = bounds_for(line, bench.practice, "")
    if value is None:
        says = kind.how
    elif line in _OHMS:
        says = f"{shown(value, kind.unit)}: {against(value, bounds, kind.unit)}."
    else:
        says = f"{kind.title}: {'yes' if value > 0 else 'no'}."
    return tell(bench, line, value=value, bounds=bounds, says=says, readings=(bench.reading(line),))


def _is_recorded(bench: Bench) -> bool:
    """Whether a recording of the amp at rest tells which hum it is, where nobody has typed it."""
    heard = any(recording.kind == "silence" for recording in bench.recordings)
    return heard and not bench.places("hum-order")


def _hum_order(bench: Bench) -> Line:
    """Which hum it is: ``LOW`` at the mains frequency, ``HIGH`` at twice it."""
    line = "hum-order"
    value = bench.value(line)
    judgement: Judgement | None = None
    says = bench.kinds[line].how
    if value is not None and not cannot_be(bench.kinds[line], value):
        order = round(value)
        judgement = (Judgement.WITHIN, Judgement.LOW, Judgement.HIGH)[order]
        says = (
            "No hum to speak of.",
            "The hum is at the mains frequency: heaters, grounds, or half of a rectifier.",
            "The hum is at twice the mains frequency: the supply's filter, or an unbalanced pair.",
        )[order]
    return tell(
        bench, line, value=value, judgement=judgement, says=says, readings=(bench.reading(line),)
    )
