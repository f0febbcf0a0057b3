"""The API as its own description has it, tried with what nobody would think of sending."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, Phase, given, settings, strategies
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from endbell.web.csrf import HEADER
from endbell.web.csrf_token import proof
from endbell.web.desk import Desk
from endbell.web.routes.api import START, description

from .conftest import HERE
from .one_app import a_dossier, one_app
from .running import session_for

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]

DOSSIER = f"{START}/dossiers/{{dossier}}"
OPERATIONS = [
    ("get", f"{START}/me"),
    ("get", f"{START}/packs"),
    ("get", f"{START}/dossiers"),
    ("post", f"{START}/dossiers"),
    ("get", DOSSIER),
    ("get", f"{DOSSIER}/form"),
    ("post", f"{DOSSIER}/changes"),
    ("get", f"{DOSSIER}/history"),
    ("get", f"{DOSSIER}/verdict"),
    ("get", f"{DOSSIER}/photos"),
]


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop") / "data") as made:
        yield made


@pytest.fixture(scope="module")
def desk(app: FastAPI) -> Desk:
    return app.state.desk


@pytest.fixture(scope="module")
def there(desk: Desk) -> list[str]:
    """Dossiers that are there, so that not every request ends at a missing one."""
    return [a_dossier(desk) for _ in range(3)]


@pytest.fixture(scope="module")
def session(desk: Desk) -> str:
    return session_for(desk.db, "technician")


@pytest.mark.parametrize("way", OPERATIONS, ids=lambda way: f"{way[0]} {way[1]}")
def test_nothing_that_is_sent_makes_a_fault(
    app: FastAPI, session: str, there: list[str], way: tuple[str, str]
) -> None:
    schema = schemathesis.openapi.from_dict(description(app))
    schema.app = app
    schema.config.update(base_url=HERE)
    operation = schema[way[1]][way[0]]
    headers = {"cookie": f"endbell={session}", HEADER: proof(session)}
    seen = set[int]()

    @settings(
        max_examples=25,
        derandomize=True,
        deadline=None,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(), known=strategies.sampled_from([*there, ""]))
    def tried(case: schemathesis.Case, known: str) -> None:
        if known and "dossier" in case.path_parameters:
            case.path_parameters["dossier"] = known
        answer = case.call(headers=headers)
        seen.add(answer.status_code)
        case.validate_response(answer, checks=CHECKS)

    tried()
    assert seen


def test_every_address_of_the_description_is_tried() -> None:
    paths = description(FastAPI())["paths"]
    told = {(way, path) for path, ways in paths.items() for way in ways}
    assert told == set(OPERATIONS)
