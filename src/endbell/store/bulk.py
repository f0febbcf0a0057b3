"""One change to many dossiers, each in its own stream."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .append import append
from .database import Database
from .events import By, Change, ChangeRefused


@dataclass(frozen=True, slots=True)
class Bulk:
    """What became of a change to many: ``done`` ids, and the sentence for each that refused it."""

    done: tuple[str, ...]
    refused: Mapping[str, str]


def bulk(db: Database, changes: Mapping[str, Sequence[Change]], *, by: By, key: str) -> Bulk:
    """Record ``changes`` (by dossier) each in its own stream; one that refuses stops no other.

    Sending the same ``key`` again records nothing twice.
    """
    done: list[str] = []
    refused: dict[str, str] = {}
    for dossier, its_changes in changes.items():
        try:
            append(db, dossier, its_changes, by=by, key=f"{key}.{dossier}")
        except (ChangeRefused, LookupError) as error:
            refused[dossier] = str(error)
        else:
            done.append(dossier)
    return Bulk(tuple(done), refused)
