"""Components: what is printed on a part, what it should measure, how far it may be off.

Colours, letters and preferred values in :mod:`.colours`, :mod:`.codes`, :mod:`.e_series`; limits in
:mod:`.limits_of_parts`; laws of pots in :mod:`.pots`.  On a sheet: :mod:`.on_sheet`.
"""

from __future__ import annotations

from .codes import Coded, ohm_code, read_farad, read_ohm
from .colours import Marked, bands_of, read_bands, read_body_end_dot
from .e_series import is_preferred, nearest, numbers, series_of
from .on_sheet import lines

__all__ = [
    "Coded",
    "Marked",
    "bands_of",
    "is_preferred",
    "lines",
    "nearest",
    "numbers",
    "ohm_code",
    "read_bands",
    "read_body_end_dot",
    "read_farad",
    "read_ohm",
    "series_of",
]
