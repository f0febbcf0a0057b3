"""What stops a command: one sentence on standard error, exit status 2."""

from __future__ import annotations

DONE = 0
DONE_WITH_REMARKS = 1
NOT_DONE = 2


class CommandError(Exception):
    """The command could not be done; ``str()`` is the sentence for the person who typed it."""


def internal_error(error: Exception) -> str:
    """The sentence for a fault of Endbell itself; raises ``error`` where that was asked for."""
    import os

    if os.environ.get("ENDBELL_TRACEBACK"):
        raise error
    said = " ".join(str(error).split())
    return (
        f"a fault in Endbell itself ({type(error).__name__}: {said}); nothing was changed; "
        "with ENDBELL_TRACEBACK=1 it says where"
    )


def nearest_sentence(near: tuple[str, ...]) -> str:
    """'; did you mean a, b?' or nothing."""
    return f"; did you mean {' or '.join(near)}?" if near else ""
