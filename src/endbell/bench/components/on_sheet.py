"""Components on a bench sheet: resistors, capacitors, pots."""

from __future__ import annotations

from ..lines import Line
from ..readings import Bench
from .capacitor_lines import capacitor_lines
from .pot_lines import pot_lines
from .resistor_lines import resistor_lines


def lines(bench: Bench) -> tuple[Line, ...]:
    """Every line of parts that the circuit names or the sheet has readings of."""
    return (*resistor_lines(bench), *capacitor_lines(bench), *pot_lines(bench))
