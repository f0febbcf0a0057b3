"""The table of what stages wait for."""

from __future__ import annotations

from endbell.bench.facts import facts
from endbell.bench.gates import needs_of_stage
from endbell.bench.kinds import line_kinds
from endbell.bench.lines import Judgement
from endbell.bench.stages import Stage


def test_every_need_and_every_reading_to_repeat_is_a_line_there_is() -> None:
    kinds = line_kinds()
    for row in facts("gates", "needs"):
        assert row["line"] in kinds
        assert all(kinds[line].measured for line in row["again"].split(";") if line)
        assert row["why"]


def test_only_a_cold_valve_passes_beside_what_is_within() -> None:
    for need in needs_of_stage(Stage.AUDIO):
        passing = {j for j in Judgement if need.passes(j)}
        cold = {Judgement.LOW} if need.line == "plate-dissipation" else set()
        assert passing == {Judgement.WITHIN} | cold, need.line


def test_no_safety_line_passes_by_anything_but_within() -> None:
    for need in needs_of_stage(Stage.LIMITED):
        assert need.also == ""
