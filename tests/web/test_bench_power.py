"""No step that needs power is on the page, nor taken by the server, before its safety lines pass."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from urllib.parse import parse_qs, urlsplit

import pytest
from fastapi import FastAPI

from endbell.bench.gates import is_powered
from endbell.bench.kinds import line_kinds
from endbell.store import Change, append, new_id, state_of
from endbell.web.desk import Desk

from .bench_amp import (
    BAD,
    BY,
    LEAKAGE,
    LIMITED,
    SAFE,
    let_pass,
    on_bench,
    read_caution,
    readings,
    replaced,
    row,
    safe,
)
from .conftest import Client
from .one_app import one_app

POWERED = frozenset(kind.id for kind in line_kinds().values() if is_powered(kind))
FIRST = ("leakage-normal", "leakage-normal-volts", "leakage-reversed", "leakage-reversed-volts")
"""Lines that need power and come before limited mains: they wait for the others of safety."""


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop")) as made:
        yield made


def offered(html: str) -> set[str]:
    """Lines that the page has a field or a link for."""
    found = set(re.findall(r'name="line" value="([^"]+)"', html))
    for address in re.findall(r'(?:href|hx-get)="([^"]*/bench\?[^"]*)"', html):
        found |= set(parse_qs(urlsplit(unescape(address)).query).get("line", []))
    return found


def powered_offered(client: Client, dossier: str) -> set[str]:
    page = client.get(f"/dossiers/{dossier}/bench")
    assert page.status_code == 200
    return offered(page.text) & POWERED


def put_in(client: Client, dossier: str, line: str, at: str = "", value: str = "1") -> int:
    data = {"line": line, "at": at, "value": value, "key": new_id()}
    return client.post(
        f"/dossiers/{dossier}/bench/readings", data=data, follow_redirects=False
    ).status_code


def blocked() -> Iterator[tuple[str, list[Change]]]:
    """Every state in which nothing powered may be asked for, by what stands in its way."""
    yield "nothing measured", []
    yield "nothing measured, caution read", [read_caution()]
    yield "all safe, caution not read", safe()
    yield "all but the caution, leakage too", safe() + readings(LEAKAGE)
    for line in SAFE:
        yield f"{line} not measured", [*safe(less=line), read_caution()]
        bad = [*safe(), *readings([BAD[line]])]
        yield f"{line} out of limits", [*bad, read_caution()]
        early = readings([*LEAKAGE, *LIMITED, row("rail-volts", "330", "A")])
        yield f"{line} not measured, power read early", [*safe(less=line), read_caution(), *early]
        other = next(name for name in SAFE if name != line)
        yield (
            f"{line} missing, {other} let pass",
            [
                *safe(less=line),
                read_caution(),
                let_pass(other),
            ],
        )
    yield "let pass before the caution", [let_pass(name) for name in SAFE]
    yield (
        "only one capacitor let pass",
        [
            *safe(less="filter-volts-left"),
            read_caution(),
            let_pass("filter-volts-left", "C1"),
        ],
    )
    yield "a part replaced since", [*safe(), read_caution(), *readings(LEAKAGE), replaced()]
    yield (
        "replaced, one line repeated",
        [
            *safe(),
            read_caution(),
            *readings(LEAKAGE),
            replaced(),
            *readings([row("earth-bond", "0.06", after=True)]),
        ],
    )
    yield "the only reading withdrawn", [*safe(), read_caution(), _withdrawn()]


def _withdrawn() -> Change:
    return Change("reading-withdrawn", {"reading": "the bond"})


CASES = dict(blocked())


@pytest.mark.parametrize("why", CASES)
def test_no_powered_line_has_a_field_or_a_link_before_its_time(
    why: str, client: Client, desk: Desk
) -> None:
    changes = CASES[why]
    if why == "the only reading withdrawn":  # the bond's reading under a known name
        known = Change("reading-set", {"reading": "the bond", "row": row("earth-bond", "0.06")})
        changes = [*safe(less="earth-bond"), known, *changes[-2:]]
    dossier = on_bench(desk.db, *changes)
    assert powered_offered(client, dossier) == set()
    # nor is it to be had by asking for it
    line = ("leakage-normal", "limited-current", "plate-volts", "hum")[len(changes) % 4]
    piece = client.get(f"/dossiers/{dossier}/bench", params={"line": line, "piece": "yes"})
    assert offered(piece.text) & POWERED == set()


@pytest.mark.parametrize("why", ["nothing measured", "insulation not measured", "no caution"])
def test_the_server_takes_no_powered_reading_before_its_time(
    why: str, client: Client, desk: Desk
) -> None:
    changes = safe() if why == "no caution" else CASES[why]
    dossier = on_bench(desk.db, *changes)
    before = state_of(desk.db, dossier)
    rows: list[str] = []
    for line in sorted(POWERED):
        kind = line_kinds()[line]
        if kind.measured:
            at = {"rail": "A", "valve": "V3", "winding": "hv", "load": "8"}.get(kind.per, "")
            rows.append(f"{line},{at},{max(kind.lowest, 0.001):g},")
    pasted = {"csv": "\n".join(rows), "keep": "yes", "key": new_id()}
    assert client.post(f"/dossiers/{dossier}/bench/import", data=pasted).status_code == 422
    for line, at in (("leakage-normal", ""), ("limited-current", ""), ("rail-volts", "A")):
        assert put_in(client, dossier, line, at, "0.001") == 409
    assert state_of(desk.db, dossier) == before


def test_a_refusal_says_what_is_waited_for(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db, *safe(less="insulation"), read_caution())
    data = {"line": "leakage-normal", "value": "0.2", "unit": "mA"}
    answer = client.post(f"/dossiers/{dossier}/bench/readings", data=data)
    assert answer.status_code == 409
    assert "needs power, and waits for: Insulation, line and neutral to chassis (not measured)" in (
        unescape(answer.text)
    )
    assert "let pass by name with a reason" in answer.text


def test_leakage_comes_first_then_limited_mains_then_full_mains(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db, *safe(), read_caution())
    assert powered_offered(client, dossier) <= set(FIRST) != set()
    append(desk.db, dossier, readings(LEAKAGE), by=BY)
    now = powered_offered(client, dossier)
    assert {"limited-mains-volts", "limited-current", "limited-rail"} <= now
    assert not now & {"rail-volts", "plate-volts", "hum", "output-watt"}
    append(desk.db, dossier, readings(LIMITED), by=BY)
    now = powered_offered(client, dossier)
    assert {"rail-volts", "plate-volts"} <= now
    assert not now & {"hum", "output-watt"}


def test_a_line_let_pass_by_name_with_a_reason_opens_what_waited_for_it_alone(
    client: Client, desk: Desk
) -> None:
    dossier = on_bench(desk.db, *safe(less="insulation"), read_caution())
    said = {"line": "insulation", "by": "Olive Owner", "reason": "the tester is away"}
    for missing in ("by", "reason"):
        wrong = client.post(f"/dossiers/{dossier}/bench/overrides", data={**said, missing: " "})
        assert wrong.status_code == 422
    assert powered_offered(client, dossier) == set()
    answer = client.post(
        f"/dossiers/{dossier}/bench/overrides", data=said, headers={"HX-Request": "true"}
    )
    assert answer.status_code == 200
    assert "let pass by Olive Owner: the tester is away" in answer.text
    assert powered_offered(client, dossier) <= set(FIRST) != set()
    override = state_of(desk.db, dossier).bench.standing("overrides")[0]
    client.post(f"/dossiers/{dossier}/bench/overrides/{override.id}/withdraw")
    assert powered_offered(client, dossier) == set()


def test_nothing_but_what_is_waited_for_can_be_let_pass(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db)
    for line in ("hum", "limited-current", "nonsense", "filter-volts-left@C99"):
        said = {"line": line, "by": "Olive Owner", "reason": "in a hurry"}
        assert client.post(f"/dossiers/{dossier}/bench/overrides", data=said).status_code == 422


def test_the_caution_before_the_first_power_needs_a_name(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db, *safe())
    page = client.get(f"/dossiers/{dossier}/bench").text
    assert "Before the first power" in page
    assert client.post(f"/dossiers/{dossier}/bench/cautions", data={"name": " "}).status_code == 422
    client.post(f"/dossiers/{dossier}/bench/cautions", data={"name": "Tomas Bench"})
    read = state_of(desk.db, dossier).acknowledged[-1]
    assert (read.level, read.name) == ("limited-mains", "Tomas Bench")
    assert powered_offered(client, dossier) <= set(FIRST) != set()


def test_after_a_repair_safety_is_measured_again_before_power(client: Client, desk: Desk) -> None:
    dossier = on_bench(desk.db, *safe(), read_caution(), *readings(LEAKAGE), replaced())
    assert put_in(client, dossier, "limited-current", value="0.2") == 409
    repeated = [r for name in ("filter-volts-left", "earth-bond", "insulation") for r in SAFE[name]]
    append(desk.db, dossier, readings({**r, "after": True} for r in repeated), by=BY)
    assert powered_offered(client, dossier) <= set(FIRST) != set()
    again = [{**r, "after": True} for r in LEAKAGE]
    append(desk.db, dossier, readings(again), by=BY)
    assert "limited-current" in powered_offered(client, dossier)
    assert put_in(client, dossier, "limited-current", value="0.2") == 303
    assert state_of(desk.db, dossier).bench.readings[-1].row["after"] is True
