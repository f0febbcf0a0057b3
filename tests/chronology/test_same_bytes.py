"""Same dossier, packs, assumptions and as_of: the same bytes, whenever, wherever, with whatever kept."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from typing import Any

import pytest

from endbell.chronology import as_json, weigh
from endbell.chronology.workspace import Workspace
from endbell.dossier import Dossier
from endbell.reference import Reference

from .amp import amp, claim, code, joint, looks, paper, repair, stamped

MARKS = (
    code("pot-1", "992-347"),
    code("pot-2", "992-3?7", "worn"),
    code("pt", "993-340"),
    joint("pt", "joint-untouched"),
    code("sp-1", "995-712"),
    stamped("elco-1", "6344", "date-code"),
    looks("covering", "covering-colour", "grey-tweed"),
    looks("handle", "handle-form", "leather-strap"),
    paper("1967-05-04"),
    stamped("cab", "12-1-58", "hand-date"),
    code("pot-3", "992-99"),
)


def the_amp(reference: Reference) -> Dossier:
    said = claim(built="1963/1964", model="lantern-20", original=["everything"])
    return amp(MARKS, reference, claim=said, repairs=[repair("elco-1", "1971")])


def text_of(dossier: Dossier, reference: Reference, workspace: Workspace | None = None) -> str:
    verdict = weigh(dossier, reference, looks=1, workspace=workspace)
    return json.dumps(as_json(verdict, full=True), allow_nan=False)


def main() -> None:
    """Print the verdict: run by the tests in a process of its own."""
    from endbell.reference import load_reference

    reference, _ = load_reference(("brackwater",))
    sys.stdout.write(text_of(the_amp(reference), reference))


@pytest.fixture(scope="module")
def first(brackwater: Reference) -> str:
    return text_of(the_amp(brackwater), brackwater)


def test_weighed_twice_an_amp_gives_the_same_bytes(first: str, brackwater: Reference) -> None:
    assert text_of(the_amp(brackwater), brackwater) == first


@pytest.mark.parametrize("seed", ["0", "1", "4242"])
def test_another_process_gives_the_same_bytes(first: str, seed: str) -> None:
    command = f"from {__name__} import main; main()"
    env = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(
        [sys.executable, "-c", command], env=env, capture_output=True, text=True, check=True
    )
    assert done.stdout == first


def test_a_workspace_that_has_seen_other_amps_changes_nothing(
    first: str, brackwater: Reference, common: Reference
) -> None:
    used = Workspace()
    text_of(amp(MARKS[:3], common), common, used)
    text_of(the_amp(brackwater), brackwater, used)
    text_of(amp(MARKS[3:], brackwater), brackwater, used)
    assert text_of(the_amp(brackwater), brackwater, used) == first


def test_a_workspace_that_keeps_next_to_nothing_changes_nothing(
    first: str, brackwater: Reference
) -> None:
    assert text_of(the_amp(brackwater), brackwater, Workspace(limit_bytes=1)) == first


def test_other_assumptions_in_between_leave_no_trace(first: str, brackwater: Reference) -> None:
    used = Workspace()
    dossier = the_amp(brackwater)
    weigh(
        dossier, brackwater, {"stock_age.sigma": 0.1, "prior.leak": 0.05}, looks=0, workspace=used
    )
    weigh(dossier, brackwater, {"lag.potentiometer.median_weeks": 20.0}, looks=0, workspace=used)
    assert text_of(dossier, brackwater, used) == first


def alike(a: Any, b: Any, path: str = "") -> list[str]:
    """Where two verdicts differ, numbers to 1e-9."""
    if isinstance(a, float) and isinstance(b, float):
        return [] if abs(a - b) <= 1e-9 * max(1.0, abs(a)) else [f"{path}: {a} {b}"]
    if isinstance(a, dict) and isinstance(b, dict):
        out = [f"{path}: {set(a) ^ set(b)}"] if set(a) != set(b) else []
        return out + [d for k in a if k in b for d in alike(a[k], b[k], f"{path}.{k}")]
    if isinstance(a, list) and isinstance(b, list):
        if len(a) != len(b):
            return [f"{path}: {len(a)} {len(b)}"]
        pairs = enumerate(zip(a, b, strict=True))
        return [d for i, (x, y) in pairs for d in alike(x, y, f"{path}[{i}]")]
    return [] if a == b else [f"{path}: {a!r} {b!r}"]


def test_marks_in_another_order_give_the_same_verdict_apart_from_their_numbers(
    first: str, brackwater: Reference
) -> None:
    order = [4, 9, 0, 7, 2, 5, 10, 1, 3, 8, 6]
    dossier = the_amp(brackwater)
    shuffled = replace(
        dossier, marks=tuple(replace(dossier.marks[i], n=n) for n, i in enumerate(order, 1))
    )
    a, b = json.loads(first), json.loads(text_of(shuffled, brackwater))
    marks = {m["n"]: m for m in b.pop("marks")}
    told = [{**marks[order.index(i) + 1], "n": i + 1} for i in range(len(order))]
    assert alike(a.pop("marks"), told) == []
    # what names marks by number, or lists their rows, is compared without the numbers
    for verdict in (a, b):
        for conflict in verdict["conflicts"]:
            del conflict["marks"], conflict["says"]
        verdict["conflicts"].sort(key=lambda c: c["p_all_right"])
        for problem in verdict["not_weighed"]:
            problem.pop("table")
        verdict.pop("words")
        verdict["deliveries"] = sorted(sorted(d["parts"]) for d in verdict["deliveries"])
        verdict["next"].sort(key=lambda n: (n["check"], n["part"]))
    assert alike(a, b) == []


def test_the_json_form_has_no_number_that_json_can_not_say(first: str) -> None:
    read = json.loads(first, parse_constant=lambda name: pytest.fail(name))
    assert read["format"] == "endbell-verdict/1"
    assert len(read["build"]["weeks"]["p"]) == 2370


def test_every_number_carries_nine_digits_at_the_most(first: str) -> None:
    def numbers(x: Any) -> list[float]:
        if isinstance(x, dict):
            return [n for v in x.values() for n in numbers(v)]
        if isinstance(x, list):
            return [n for v in x for n in numbers(v)]
        return [x] if isinstance(x, float) else []

    assert all(float(f"{n:.9g}") == n for n in numbers(json.loads(first)))
