"""Which code a result was made by: what is kept is not taken up again by another."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path

from .. import __version__

WEIGHING = ("marks", "reference", "dossier", "chronology")
"""Rooms whose code every verdict depends on."""


@lru_cache
def code_mark(*rooms: str) -> str:
    """One hash over the code of some rooms (folders below the package)."""
    root = Path(__file__).parents[1]
    mark = hashlib.sha256()
    for room in rooms:
        for file in sorted((root / room).rglob("*.py")):
            mark.update(file.relative_to(root).as_posix().encode() + b"\0" + file.read_bytes())
    return mark.hexdigest()


def made_by() -> str:
    """Version and mark of the code that weighs: '0.1.0+3f2a9c1b'."""
    return f"{__version__}+{code_mark(*WEIGHING)[:8]}"
