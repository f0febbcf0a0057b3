"""The record of one amp: its types, its file form, and its marks as read.

``load_dossier`` reads a file with every bad row reported and kept; ``read_marks`` reads its marks.
Writing (``editing``), guessing a kind (``guess``) and the JSON Schema (``schema``) stand beside.
"""

from .errors import DossierError
from .load import load_dossier, parse_dossier
from .reading import ReadMarks, read_marks
from .types import Claim, Dossier, Mark, Part, Problem, Repair, SetAside

__all__ = [
    "Claim",
    "Dossier",
    "DossierError",
    "Mark",
    "Part",
    "Problem",
    "ReadMarks",
    "Repair",
    "SetAside",
    "load_dossier",
    "parse_dossier",
    "read_marks",
]
