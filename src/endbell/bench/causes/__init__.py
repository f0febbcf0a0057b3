"""Likely causes of what is off on a bench sheet, and the measurement worth making next.

A noisy-OR network of faults and symptoms, summed exactly over no fault, one and two; what it is
told stands in ``data/causes/*.csv``.  ``on_sheet.diagnose`` is what the rest of the house calls.
"""

from .on_sheet import diagnose
from .types import Cause, Diagnosis, NextMeasurement

__all__ = ["Cause", "Diagnosis", "NextMeasurement", "diagnose"]
