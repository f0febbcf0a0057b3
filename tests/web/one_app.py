"""One application for all tests of a file, and a dossier of its own for each of them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fastapi import FastAPI
from starlette.testclient import TestClient

from endbell.store import By, Change, append, new_id
from endbell.web.app import create_app
from endbell.web.desk import Desk
from endbell.web.settings import Settings

from .conftest import HERE
from .running import CHEAP, add_people

CLAIM = {"maker": "brackwater", "model": "lantern-20", "built": "1964"}
MARKS = (
    {"part": "ot", "kind": "source-date-code", "text": "993-348"},
    {"part": "pot-1", "kind": "source-date-code", "text": "992-341"},
)


@contextmanager
def one_app(folder: Path) -> Iterator[FastAPI]:
    """The workbench over a database in ``folder``, started, with an account of each role."""
    made = create_app(Settings(data=folder, hash_cost=CHEAP))
    add_people(made.state.desk.db)
    with TestClient(made, base_url=HERE):
        yield made


def a_dossier(desk: Desk, marks: tuple[dict[str, str], ...] = MARKS) -> str:
    """The id of a dossier of its own: a claim and two marks."""
    made = new_id()
    opened = {"number": f"TRV-{made[-8:]}", "packs": ["brackwater"], "claim": CLAIM}
    entered = [Change("mark-set", {"mark": new_id(), "row": row}) for row in marks]
    append(desk.db, made, [Change("opened", opened), *entered], by=By("tests", "test"))
    return made
