"""The strip of each dossier as it was last weighed, kept for lists."""

from __future__ import annotations

from collections.abc import Sequence

from ..store import Database, DossierState
from ..store.strips import StripRow, keep_strips, kept_strip, strip_kept_of
from .weighed import Strip, strip_from_json

MADE_BY = 80
"""Characters of the name of what made a strip."""


def keep(db: Database, state: DossierState, strip: Strip) -> None:
    """Keep ``strip`` unless the dossier has moved on since ``state``."""
    keep_all(db, [(state, strip)])


def keep_all(db: Database, made: Sequence[tuple[DossierState, Strip]]) -> None:
    """Keep several at once, those whose dossier has not moved on."""
    keep_strips(db, [_row(state, strip) for state, strip in made])


def kept(db: Database, dossier: str) -> Strip | None:
    """The strip that was kept last."""
    found = kept_strip(db, dossier)
    return strip_from_json(found) if found else None


def current(db: Database, state: DossierState, made_by: str) -> Strip | None:
    """The strip of just this state, if it was kept and ``made_by`` (code, packs) made it."""
    found = strip_kept_of(db, state.id, state.version, made_by[:MADE_BY])
    return strip_from_json(found) if found else None


def _row(state: DossierState, strip: Strip) -> StripRow:
    return StripRow(
        dossier=state.id,
        version=state.version,
        made_by=strip.made_by[:MADE_BY],
        says=strip.trouble or strip.says,
        sure=strip.sure,
        strip=strip.as_json(),
        first_year=strip.first_year,
        mode_year=strip.mode_year,
        last_year=strip.last_year,
        p_mode_year=strip.p_mode_year,
        claim_p=strip.claim_p,
        trouble=bool(strip.trouble),
        conflicts=strip.conflicts,
        years=strip.years,
    )
