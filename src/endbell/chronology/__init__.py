"""The probability model: marks in, verdict out. Pure: numpy and the rooms below, no clock or files.

The names are looked up when first asked for: a command that only says a percentage needs no arrays.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .assumptions import AssumptionError, assumptions_in_force
    from .contract_form import as_json
    from .in_brief import Brief, brief
    from .verdict import Verdict
    from .weighing import NothingPossible, weigh
    from .workspace import Workspace

__all__ = [
    "AssumptionError",
    "Brief",
    "NothingPossible",
    "Verdict",
    "Workspace",
    "as_json",
    "assumptions_in_force",
    "brief",
    "weigh",
]

_HOMES = {
    "AssumptionError": "assumptions",
    "Brief": "in_brief",
    "NothingPossible": "weighing",
    "Verdict": "verdict",
    "Workspace": "workspace",
    "as_json": "contract_form",
    "assumptions_in_force": "assumptions",
    "brief": "in_brief",
    "weigh": "weighing",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f".{_HOMES[name]}", __name__), name)
