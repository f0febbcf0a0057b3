"""What stops a command: one sentence on standard error, exit status 2."""

from __future__ import annotations

DONE = 0
DONE_WITH_REMARKS = 1
NOT_DONE = 2


class CommandError(Exception):
    """The command could not be done; ``str()`` is the sentence for the person who typed it."""


def nearest_sentence(near: tuple[str, ...]) -> str:
    """'; did you mean a, b?' or nothing."""
    return f"; did you mean {' or '.join(near)}?" if near else ""
