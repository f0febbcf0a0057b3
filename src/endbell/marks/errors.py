"""Every error that reading a mark can raise.

::

    MarkError                what was found, and what would be accepted
    ├── UnknownKind          no reader for that kind of mark
    ├── TextError            a text that can't be cut into characters
    ├── EdtfError            a date that is not EDTF (ISO 8601-2)
    ├── WeekError            a week that does not exist
    └── TableError           a table given to a reader can't be used

Readers raise only ``UnknownKind`` (through the registry) and ``TableError``: whatever is wrong with
the *mark* comes back as a :class:`~endbell.marks.types.Misfit`, so that one bad row never stops
the good ones.
"""

from __future__ import annotations


class MarkError(ValueError):
    """Base of all errors of this room: ``found`` and ``accepted`` say the two halves apart."""

    def __init__(self, found: str, accepted: str) -> None:
        super().__init__(f"{found}; accepted: {accepted}")
        self.found = found
        self.accepted = accepted


class UnknownKind(MarkError):
    """No reader is registered for this kind of mark."""


class TextError(MarkError):
    """A text that can't be cut into characters (an open bracket, ``...`` in the middle)."""


class EdtfError(MarkError):
    """A date that is not EDTF, or lies outside the years 1 to 9999."""


class WeekError(MarkError):
    """A week number that the year does not have."""


class TableError(MarkError):
    """A table that a reader was given lacks what the reading needs."""
