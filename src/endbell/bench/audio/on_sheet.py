"""Audio on a bench sheet: every line in the order of the work.

Read of a recording, beside ``full_scale`` and ``load``: ``channel`` (left, right or a number, of a
file with two that differ), ``meter_volts`` (V rms at the load by the meter while a sine was
recorded: calibrates the others), ``hz`` (roughly, of a tone), ``hz_from``, ``hz_to``, ``seconds``
(of a sweep as it was played), ``through`` ('power amp' where a sweep by-passed tone controls),
``for`` ('output impedance' of a sine at one of two loads).
"""

from __future__ import annotations

from ..lines import Line
from ..readings import Bench
from .output_lines import (
    distortion_lines,
    impedance_lines,
    load_line,
    load_volts_lines,
    output_watt,
)
from .quality_lines import noise_lines, response_line, reverb_lines, tremolo_lines
from .saying import read_line


def lines(bench: Bench) -> tuple[Line, ...]:
    """Every audio line of the sheet, those not measured yet included: the load first, then what is
    measured at rest, then driven.
    """
    typed = (read_line(bench, "output-volts"),) if bench.places("output-volts") else ()
    return (
        load_line(bench),
        *noise_lines(bench),
        *typed,
        output_watt(bench),
        *distortion_lines(bench),
        response_line(bench),
        *load_volts_lines(bench),
        *impedance_lines(bench),
        *tremolo_lines(bench),
        *reverb_lines(bench),
    )
