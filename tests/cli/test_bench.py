"""``endbell bench``."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import pytest

from endbell.bench.result import OVERRIDING
from endbell.bench.schema import BENCH_FILE

from .conftest import Run, one_sentence

CIRCUIT = """
[circuit]
id = "own/small"
title = "A small amp of its own"
protection = "I"
fuse = "1 A"
fuse_kind = "T"
mains_watt = 90
rectifier = "silicon"
rated_watt = 15
load_ohm = 8
source = "drawn at the bench"
confidence = "invented world"

[[circuit.mains]]
volts = 230

[[circuit.rail]]
id = "B1"
volts = 330

[[circuit.capacitor]]
id = "c1"
farad = "47 uF"
volts = 450
use = "filter"
rail = "B1"

[[circuit.resistor]]
id = "r1"
ohm = "220k"
use = "bleeder"
bleeds = "B1"
"""

SAFE = {
    "cord-kind": "3",
    "line-capacitor": "0",
    "filter-volts-left@c1": "<1 V",
    "earth-bond": "0.06 ohm",
    "insulation": ">200M",
    "fuse-fitted": "1 A",
    "leakage-normal": "0.4 mA",
    "leakage-reversed": "0.5 mA",
}
LIMITED = {"limited-mains-volts": "60 V", "limited-current": "90 mA", "limited-rail@B1": "80 V"}


def sheet(readings: dict[str, str], more: str = "") -> str:
    text = 'format = "endbell-sheet/1"\nid = "B-1"\npractice = "iet"\nby = "RT"\n'
    for key, value in readings.items():
        line, _, at = key.partition("@")
        text += f'\n[[reading]]\nline = "{line}"\nvalue = "{value}"\n'
        text += f'at = "{at}"\n' if at else ""
        text += 'note = "T"\n' if line == "fuse-fitted" else ""
    return text + more + CIRCUIT


@pytest.fixture
def amp(tmp_path: Path) -> Path:
    file = tmp_path / "amp.toml"
    file.write_text(sheet({**SAFE, **LIMITED, "rail-volts@B1": "334 V"}), encoding="utf-8")
    return file


def test_a_sheet_is_one_json_document_that_keeps_to_its_schema(run: Run, amp: Path) -> None:
    ran = run("bench", "amp.toml", "--json")
    assert ran.status == 0
    assert ran.err == ""
    assert ran.json["format"] == "endbell-bench/1"
    jsonschema.validate(ran.json, json.loads(BENCH_FILE.read_text(encoding="utf-8")))
    states = {stage["stage"]: stage["state"] for stage in ran.json["stages"]}
    assert states["safety"] == "passed"
    assert run("bench", "amp.toml", "--json").out == ran.out


def test_the_terminal_says_stages_values_and_that_codes_override(run: Run, amp: Path) -> None:
    ran = run("bench", "amp.toml")
    assert ran.status == 0
    plain = " ".join(ran.out.split())
    assert OVERRIDING in plain
    assert "2 · Safety: passed" in plain
    assert "rail-volts at B1 334 V" in plain
    assert max(len(line) for line in ran.out.split("\n")) <= 100


def test_full_unfolds_every_line_with_its_limits(run: Run, amp: Path) -> None:
    plain = " ".join(run("bench", "amp.toml", "--full").out.split())
    assert "✓ Insulation, line and neutral to chassis: 200 MΩ, within" in plain
    assert "at least 1 MΩ: 1 Mohm, class I [published;" in plain


def test_an_amp_stopped_at_safety_is_a_result_and_shows_nothing_that_needs_power(
    run: Run, amp: Path
) -> None:
    bad = {**SAFE, **LIMITED, "insulation": "0.2M", "rail-volts@B1": "334 V"}
    amp.write_text(sheet(bad), encoding="utf-8")
    ran = run("bench", "amp.toml")
    assert ran.status == 0
    plain = " ".join(ran.out.split())
    assert "Stopped at safety: insulation (low)" in plain
    assert "4 · Full mains, no signal: waits" in plain
    assert "334 V" not in plain
    assert "rail-volts at B1: taken before its safety lines passed (reading 12)" in plain
    assert "334 V" not in json.dumps(run("bench", "amp.toml", "--json").json["lines"])


def test_an_override_stands_in_every_report(run: Run, amp: Path) -> None:
    let = '\n[[override]]\nline = "insulation"\nby = "HK"\nreason = "tested next door"\n'
    amp.write_text(sheet({**SAFE, "insulation": "0.2M"}, let), encoding="utf-8")
    assert "let pass by HK: tested next door" in " ".join(run("bench", "amp.toml").out.split())
    (said,) = [r for r in run("bench", "amp.toml", "--json").json["remarks"] if "let pass" in r]
    assert said == "insulation was let pass by HK: tested next door"


def test_a_bad_row_is_said_and_the_status_is_one(run: Run, amp: Path) -> None:
    more = '\n[[reading]]\nline = "mains-volts"\nvalue = "-231 V"\n'
    text = sheet(SAFE, more)
    amp.write_text(text, encoding="utf-8")
    ran = run("bench", "amp.toml")
    assert ran.status == 1
    line = 1 + text[: text.rindex("[[reading]]")].count("\n")
    assert f"amp.toml, line {line} (reading 9)" in ran.err
    assert "probes were probably swapped" in ran.err
    assert "cannot be" in ran.out
    ran = run("bench", "amp.toml", "--json")
    assert ran.status == 1
    assert ran.json["problems"][0]["table"] == 9


def test_what_is_wrong_in_the_sheet_s_own_circuit_is_said_too(run: Run, amp: Path) -> None:
    amp.write_text(sheet(SAFE).replace('farad = "47 uF"', 'farad = "47 V"'), encoding="utf-8")
    ran = run("bench", "amp.toml")
    assert ran.status == 1
    assert "capacitor" in ran.err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[reading]", "can't be read as TOML"),
        ('format = "endbell-dossier/1"', "endbell-sheet/1"),
        ('practice = "iet"', "names no circuit"),
        ('circuit = "brackwater/nothing-9"', "nothing-9"),
    ],
)
def test_what_cannot_be_computed_is_one_sentence_and_status_two(
    run: Run, amp: Path, text: str, said: str
) -> None:
    amp.write_text(text, encoding="utf-8")
    ran = run("bench", "amp.toml")
    assert ran.status == 2
    assert said in ran.err
    assert one_sentence(ran.err)
    assert ran.out == ""


def test_a_missing_sheet_and_no_sheet_are_said(run: Run) -> None:
    assert run("bench", "none.toml").err == "endbell: none.toml: there is no such file\n"
    assert "--new CIRCUIT" in run("bench").err
    assert "did you mean" in run("bench", "none.toml", "--practice", "ice").err


def test_another_practice_holds_the_amp_against_its_own_limits(run: Run, amp: Path) -> None:
    ran = run("bench", "amp.toml", "--json", "--practice", "vde")
    assert ran.json["practice"] == "vde"
    (bond,) = [line for line in ran.json["lines"] if line["id"] == "earth-bond"]
    assert bond["bounds"][0]["high"] == pytest.approx(0.3)


def test_the_page_stands_alone_and_says_what_the_terminal_says(run: Run, amp: Path) -> None:
    ran = run("bench", "amp.toml", "--html", "amp.html")
    assert ran.status == 0
    page = Path("amp.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert "http-equiv" in page
    assert OVERRIDING in page
    assert "Safety: passed" in page
    assert "200 MΩ" in page
    assert page.count("<h1>") == 1


def test_the_page_shows_nothing_that_needs_power_before_safety(run: Run, amp: Path) -> None:
    bad = {**SAFE, **LIMITED, "insulation": "0.2M", "rail-volts@B1": "334 V"}
    amp.write_text(sheet(bad), encoding="utf-8")
    run("bench", "amp.toml", "--html", "amp.html")
    page = Path("amp.html").read_text(encoding="utf-8")
    assert "334 V" not in page
    assert "Taken too early, kept and not judged" in page


def test_what_was_typed_is_never_markup(run: Run, amp: Path) -> None:
    let = '\n[[override]]\nline = "insulation"\nby = "<b>HK</b>"\nreason = "[red]why[/red] <i>"\n'
    amp.write_text(sheet({**SAFE, "insulation": "0.2M"}, let), encoding="utf-8")
    assert "[red]why[/red] <i>" in " ".join(run("bench", "amp.toml").out.split())
    run("bench", "amp.toml", "--html", "amp.html")
    assert "<b>HK" not in Path("amp.html").read_text(encoding="utf-8")


def test_a_dossier_beside_the_sheet_is_weighed_for_its_parts(run: Run, amp: Path) -> None:
    from .conftest import AMP

    Path("TRV-1.toml").write_text(AMP, encoding="utf-8")
    amp.write_text('dossier = "TRV-1"\n' + sheet(SAFE), encoding="utf-8")
    ran = run("bench", "amp.toml", "--json")
    assert ran.status == 0
    assert ran.json["dossier"] == "TRV-1"
    Path("TRV-1.toml").write_text("[[mark]", encoding="utf-8")
    ran = run("bench", "amp.toml")
    assert ran.status == 2
    assert "the dossier of the sheet" in ran.err


def test_blank_readings_can_be_added_to_the_sheet_they_came_from(run: Run, amp: Path) -> None:
    amp.write_text(sheet({k: v for k, v in SAFE.items() if "leakage" not in k}), encoding="utf-8")
    ran = run("bench", "amp.toml", "--blank")
    assert ran.status == 0
    assert ran.out.index('"leakage-normal"') < ran.out.index('"resistor-ohm"')
    assert '"limited-current"' not in ran.out
    text = amp.read_text(encoding="utf-8") + ran.out
    amp.write_text(text, encoding="utf-8")
    assert run("bench", "amp.toml").status == 0
    assert run("bench", "amp.toml", "--blank", "--json").json["text"] == ran.out


WINDINGS = """
format = "endbell-pack/1"
id = "windings"
version = "1"
title = "Turns of an invented transformer"
builds_on = ["brackwater"]
source = "invented world"
confidence = "invented world"

[[quantity]]
id = "ot-ratio"
title = "turns ratio of the output transformer"
part = "ot"
unit = "1"
cost_to_fake = 0.2
softness_weeks = 6.0
level = "chassis-out"
source = "invented world"
confidence = "invented world"

[[alternative]]
quantity = "ot-ratio"
value = "first-winding"
mean = 28.7
sd = 0.3
first = "1953"
last = "1960-12"
source = "invented world"
confidence = "invented world"

[[alternative]]
quantity = "ot-ratio"
value = "second-winding"
mean = 31.2
sd = 0.3
first = "1961-01"
last = "1971-12"
source = "invented world"
confidence = "invented world"
"""
AMP = """
format = "endbell-dossier/1"
id = "amp"
as_of = 2026-03-09
packs = ["windings"]

[claim]
maker = "brackwater"
model = "lantern-20-reverb"
"""


def test_a_transformer_that_was_measured_weighs_in_the_verdict(run: Run, tmp_path: Path) -> None:
    (tmp_path / "packs" / "windings").mkdir(parents=True)
    (tmp_path / "packs" / "windings" / "pack.toml").write_text(WINDINGS)
    (tmp_path / "amp.toml").write_text(AMP)
    run("bench", "--demo", str(tmp_path))
    sheet = (tmp_path / "a-healthy-lantern-reverb.toml").read_text()
    (tmp_path / "amp.bench.toml").write_text(re.sub(r'dossier = ".*"', 'dossier = "amp"', sheet))
    packs = ("--pack-dir", str(tmp_path / "packs"))
    marks = run("bench", str(tmp_path / "amp.bench.toml"), "--marks", *packs).out
    assert 'quantity = "ot-ratio"' in marks and "31.2" in marks

    def early() -> float:
        said = json.loads(run("weigh", str(tmp_path / "amp.toml"), "--json", *packs).out)
        return sum(p for year, p in said["build"]["years"].items() if int(year) < 1961)

    before = early()
    (tmp_path / "amp.toml").write_text(AMP + marks)
    assert early() < before / 3


def test_marks_that_no_pack_knows_are_said_to_be_none(run: Run, tmp_path: Path) -> None:
    run("bench", "--demo", str(tmp_path))
    done = run("bench", str(tmp_path / "a-healthy-lantern-reverb.toml"), "--marks")
    assert done.out == "" and "no marks" in done.err
