"""The demonstration sheets show what they say they show, and the guide shows what they print."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import pytest

from endbell.bench.sheet import parse_sheet
from endbell.cli.bench import demo_sheets

from .conftest import Run, one_sentence

GUIDE = (Path(__file__).parents[2] / "docs" / "bench.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def computed() -> dict[str, Any]:
    """Results already reached: a sheet is computed once."""
    return {}


@pytest.fixture
def told(run: Run, computed: dict[str, Any]) -> dict[str, Any]:
    """The results of the demonstration sheets, by the first letter of the file's name."""
    if computed:
        return computed
    files = run("bench", "--demo", "sheets", "--json").json["sheets"]
    out = computed
    for file in files:
        ran = run("bench", file, "--json")
        assert ran.status == 0
        assert ran.err == ""
        out[Path(file).name[0]] = ran.json
    return out


def states(result: Any) -> dict[str, str]:
    return {stage["stage"]: stage["state"] for stage in result["stages"]}


def line(result: Any, name: str, at: str = "") -> Any:
    (found,) = [x for x in result["lines"] if (x["id"], x["at"]) == (name, at)]
    return found


def test_the_sheets_are_of_the_invented_world_and_without_a_fault() -> None:
    for name, text in demo_sheets().items():
        sheet = parse_sheet(text, name)
        assert sheet.problems == sheet.remarks == ()
        assert sheet.circuit.startswith("brackwater/")


def test_the_healthy_amp_passes_every_stage_with_nothing_measured_off(told: dict[str, Any]) -> None:
    healthy = told["a"]
    assert states(healthy) == {
        "discharged": "passed",
        "safety": "passed",
        "limited mains": "passed",
        "dc": "passed",
        "audio": "open",
    }
    assert healthy["held"] == []
    off = [x["id"] for x in healthy["lines"] if x["judgement"] in ("low", "high", "cannot be")]
    assert off == []
    assert healthy["causes"] == []
    assert line(healthy, "output-watt")["judgement"] == "within"


def test_two_faults_are_the_two_likeliest_causes_and_no_signal_is_put_on(
    told: dict[str, Any],
) -> None:
    faulty = told["b"]
    assert states(faulty)["dc"] == "stopped"
    assert states(faulty)["audio"] == "waits"
    assert line(faulty, "plate-dissipation", "V5")["judgement"] == "high"
    first = [cause["title"] for cause in faulty["causes"][:2]]
    assert "A filter capacitor has dried out" in first
    assert "A coupling capacitor leaks" in first
    shown = {(x["id"], x["at"]) for x in faulty["lines"]}
    assert all((step["line"], step["at"]) in shown for step in faulty["next"])


def test_the_amp_stopped_at_safety_shows_nothing_that_needs_power(told: dict[str, Any]) -> None:
    stopped = told["c"]
    assert states(stopped)["discharged"] == "stopped"
    assert states(stopped)["safety"] == "stopped"
    assert not [x for x in stopped["lines"] if x["stage"] in ("limited mains", "dc", "audio")]
    (early,) = [held for held in stopped["held"] if held["readings"]]
    assert (early["id"], early["at"], early["readings"][0]["typed"]) == ("rail-volts", "A", "318 V")
    assert all(step["stage"] in ("discharged", "safety") for step in stopped["next"])


def test_after_the_repair_what_was_off_is_put_right(told: dict[str, Any]) -> None:
    words = {(c["id"], c["at"]): c["word"] for c in told["d"]["changes"]}
    for key in (("capacitor-farad", "C1"), ("grid-volts", "V5"), ("plate-dissipation", "V5")):
        assert words[key] == "put right"
    assert "off now" not in words.values()
    assert states(told["d"])["audio"] == "open"
    assert [(r["part"], r["bag"]) for r in told["d"]["replaced"]] == [
        ("cap-1", "151-1"),
        ("elco-1", "151-2"),
    ]


def test_a_sheet_of_one_s_own_is_not_written_over(run: Run) -> None:
    name = next(iter(demo_sheets()))
    Path("sheets").mkdir()
    Path("sheets", name).write_text("mine", encoding="utf-8")
    ran = run("bench", "--demo", "sheets")
    assert ran.status == 2
    assert "says something else" in ran.err
    assert Path("sheets", name).read_text(encoding="utf-8") == "mine"


def test_a_blank_sheet_is_written_and_never_over_another(run: Run) -> None:
    ran = run("bench", "amp.toml", "--new", "brackwater/lantern-20")
    assert (ran.status, ran.out) == (0, "")
    assert run("bench", "amp.toml").status == 0
    again = run("bench", "amp.toml", "--new", "brackwater/lantern-20")
    assert again.status == 2
    assert "never written over" in again.err
    assert run("bench", "--new", "brackwater/lantern-20").out.startswith("format =")
    text = run("bench", "--new", "brackwater/wick-6", "--practice", "vde", "--json").json["text"]
    assert 'practice = "vde"' in text
    for wrong in ("lantern", "brackwater/lantern-30", 'a"b', "a\nb"):
        ran = run("bench", "--new", wrong)
        assert ran.status == 2
        assert one_sentence(ran.err)


def shown() -> list[tuple[str, list[str]]]:
    """Every command of the guide's console blocks, with the lines shown under it."""
    out: list[tuple[str, list[str]]] = []
    for block in re.findall(r"^```console\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL):
        for text in block.splitlines():
            if text.startswith("$ "):
                out.append((text[2:], []))
            else:
                out[-1][1].append(text)
    return out


def test_the_guide_shows_what_the_commands_print(run: Run) -> None:
    commands = shown()
    assert len(commands) > 3
    for command, lines in commands:
        words = shlex.split(command)
        assert words[:2] == ["endbell", "bench"]
        ran = run(*words[1:])
        assert ran.status == 0, ran.err
        printed = " ".join((ran.out + ran.err).split())
        for text in lines:
            for piece in text.split("…"):
                assert " ".join(piece.split()) in printed, f"{command}: {text}\n{printed[:3000]}"
