"""Transformers: windings by ratio, resistance and inductance, and whether it is the right one.

Computation in :mod:`.ratios`, :mod:`.copper`, :mod:`.inductance`, :mod:`.identity`: floats in SI
units.  On a sheet: :mod:`.on_sheet`; as marks for the verdict: :mod:`.marks`; against
other models' transformers: :mod:`.rivals`.
"""

from __future__ import annotations

from .marks import MeasuredMark, as_toml, mark_rows, measured_marks, shares
from .on_sheet import lines
from .rivals import rivals

__all__ = ["MeasuredMark", "as_toml", "lines", "mark_rows", "measured_marks", "rivals", "shares"]
