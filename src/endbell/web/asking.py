"""What a state of the record says of how it is to be weighed."""

from __future__ import annotations

from ..store import DossierState


def day_of(state: DossierState) -> str:
    """The day up to which an amp may have been built, where no mark gives one: the last change."""
    return (state.changed_at or state.opened_at)[:10]


def answered_of(state: DossierState) -> tuple[tuple[str, str], ...]:
    """The looks that were said not to be possible."""
    return tuple((answer.check, answer.part) for answer in state.answers)
