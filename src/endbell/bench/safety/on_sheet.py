"""Safety on a bench sheet: every line in the order of the work."""

from __future__ import annotations

from ..lines import Line
from ..readings import Bench
from .earthing import cord_lines, earth_bond
from .fusing import fuse, mains_current_line, mains_volts, secondaries, tap_set
from .isolated import cord, insulation, line_capacitor, plug_resistance
from .leaking import leakage_lines
from .limited import limited_lines
from .supply_lines import discharge_lines, left_lines, margin_lines


def lines(bench: Bench) -> tuple[Line, ...]:
    """Every safety line of the sheet, those not measured yet included, in the order of the work:
    unplugged and discharged, safety, limited mains.
    """
    bond = earth_bond(bench)
    return (
        cord(bench),
        line_capacitor(bench),
        *discharge_lines(bench),
        *left_lines(bench),
        *cord_lines(bench),
        *(() if bond is None else (bond,)),
        plug_resistance(bench),
        insulation(bench),
        fuse(bench),
        *margin_lines(bench),
        mains_volts(bench),
        *tap_set(bench),
        *secondaries(bench),
        *leakage_lines(bench),
        *limited_lines(bench),
        mains_current_line(bench),
    )
