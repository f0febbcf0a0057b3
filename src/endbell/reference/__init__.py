"""Reference packs: what is known about makers, component trades and the trade's own habits.

Data with a source in every row, loaded and merged into one :class:`Reference`, which is the one
argument that the weighing needs beside the dossier.
"""

from .check import check_pack
from .combine import PackInfo, available_packs, find_pack, load_reference
from .errors import PackError, PackNotFound, PackProblem, PackUnreadable
from .names import name_source
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
    "check_pack",
    "find_pack",
    "load_reference",
    "name_source",
]
