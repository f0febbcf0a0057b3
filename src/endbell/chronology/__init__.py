"""The probability model: marks in, verdict out. Pure: numpy and the rooms below, no clock, no
files.
"""

from .as_json import as_json
from .verdict import Verdict
from .weigh import weigh

__all__ = ["Verdict", "as_json", "weigh"]
