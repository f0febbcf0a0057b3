"""The probability model: marks in, verdict out. Pure: numpy and the rooms below, no clock, no
files.
"""

from .as_json import as_json
from .assumptions import AssumptionError, assumptions_in_force
from .verdict import Verdict
from .weigh import weigh

__all__ = ["AssumptionError", "Verdict", "as_json", "assumptions_in_force", "weigh"]
