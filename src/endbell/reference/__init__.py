"""Reference packs: what is known about makers, component trades and the trade's own habits.

Data with a source in every row, loaded and merged into one :class:`Reference`, which is the one
argument that the weighing needs beside the dossier.
"""

from .combine import PackInfo, available_packs, find_pack, load_reference
from .errors import PackError, PackNotFound, PackProblem, PackUnreadable
from .types import Assumption, Reference

__all__ = [
    "Assumption",
    "PackError",
    "PackInfo",
    "PackNotFound",
    "PackProblem",
    "PackUnreadable",
    "Reference",
    "available_packs",
    "find_pack",
    "load_reference",
]
