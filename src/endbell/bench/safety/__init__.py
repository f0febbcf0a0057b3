"""Safety: what has to be known before mains is on, and what mains then does.

Computation in :mod:`.discharge`, :mod:`.rails`, :mod:`.leakage`, :mod:`.mains`, :mod:`.bond`:
floats and arrays in SI units.  What it means on a bench sheet in :mod:`.on_sheet`.
"""

from __future__ import annotations

from .on_sheet import lines

__all__ = ["lines"]
