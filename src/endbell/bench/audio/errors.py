"""What cannot be measured from a recording, said so that the next one can."""

from __future__ import annotations


class RecordingError(ValueError):
    """A recording that cannot be used. ``found``: what is wrong with it; ``accepted``: what would
    do; ``place``: the file, or '' where samples were handed over without one.
    """

    def __init__(self, found: str, accepted: str, place: str = "") -> None:
        self.found = found
        self.accepted = accepted
        self.place = place
        super().__init__(f"{place}: {found}. {accepted}" if place else f"{found}. {accepted}")

    def at(self, place: str) -> RecordingError:
        """The same of a file, where it was found in samples without one."""
        return self if self.place else RecordingError(self.found, self.accepted, place)
