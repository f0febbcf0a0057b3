"""The tables that follow from a dossier's state, moved along with it in the same transaction."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, delete, insert, update

from .events import canonical
from .search import index
from .state import DossierState, MarkRow, PhotoRow
from .tables import dossiers, marks, photos, tags


def project(connection: Connection, before: DossierState | None, after: DossierState) -> None:
    """Write ``after`` into the projections; ``before`` is what they hold now (None: nothing)."""
    row = dossier_row(after)
    if before is None:
        connection.execute(insert(dossiers).values(row))
    else:
        connection.execute(update(dossiers).where(dossiers.c.id == after.id).values(row))
    if before is None or before.marks != after.marks:
        connection.execute(delete(marks).where(marks.c.dossier == after.id))
        _insert(connection, marks, [mark_row(after.id, mark) for mark in after.marks])
    if before is None or before.photos != after.photos:
        connection.execute(delete(photos).where(photos.c.dossier == after.id))
        _insert(connection, photos, [photo_row(after.id, photo) for photo in after.photos])
    if before is None or before.tags != after.tags:
        connection.execute(delete(tags).where(tags.c.dossier == after.id))
        names = dict.fromkeys(after.tags)
        _insert(connection, tags, [{"dossier": after.id, "tag": name} for name in names])
    index(connection, before, after)


def dossier_row(state: DossierState) -> dict[str, Any]:
    """The row of ``dossiers`` for a state."""
    claim = state.claim
    return {
        "id": state.id,
        "number": state.number,
        "version": state.version,
        "state": canonical(state.as_json()),
        "maker": _text(claim.get("maker")),
        "model": _text(claim.get("model")),
        "built": _text(claim.get("built")),
        "whose": _text(state.intake.get("whose")),
        "purpose": _text(state.head.get("purpose")),
        "marks": len(state.standing),
        "closed": state.closed,
        "opened_at": state.opened_at,
        "changed_at": state.changed_at,
    }


def mark_row(dossier: str, mark: MarkRow) -> dict[str, Any]:
    """The row of ``marks`` for a mark."""
    return {
        "id": mark.id,
        "dossier": dossier,
        "part": _text(mark.row.get("part")),
        "kind": _text(mark.row.get("kind")),
        "text": _text(mark.row.get("text")),
        "result": _text(mark.row.get("result")) or "seen",
        "withdrawn": mark.withdrawn,
    }


def photo_row(dossier: str, photo: PhotoRow) -> dict[str, Any]:
    """The row of ``photos`` for a photo."""
    return {
        "dossier": dossier,
        "sha256": photo.sha256,
        "mark": photo.mark,
        "part": photo.part,
        "type": photo.type,
        "bytes": photo.bytes,
        "withdrawn": photo.withdrawn,
    }


def _text(value: object) -> str:
    """As a column can hold it: PostgreSQL knows no NUL in a text."""
    said = value if isinstance(value, str) else "" if value is None else str(value)
    return said.replace("\0", "\ufffd")


def _insert(connection: Connection, table: Any, rows: list[dict[str, Any]]) -> None:
    if rows:
        connection.execute(insert(table), rows)
