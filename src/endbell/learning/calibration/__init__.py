"""Whether what the engine says is so as often as it says: drawn dossiers, judged by their truth.

Pure: jobs and packs in, records and figures out.
"""

from .bars import Bar, bars, missed
from .drawing import Drawing, Job
from .form import FORMAT, Asked, Mended, as_form
from .record import Record, Records
from .rules import years_made
from .scenarios import AS_STATED, SCENARIOS, Scenario
from .summary import Figures, figures

__all__ = [
    "AS_STATED",
    "FORMAT",
    "SCENARIOS",
    "Asked",
    "Bar",
    "Drawing",
    "Figures",
    "Job",
    "Mended",
    "Record",
    "Records",
    "Scenario",
    "as_form",
    "bars",
    "figures",
    "missed",
    "years_made",
]
