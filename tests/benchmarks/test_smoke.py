"""Every measurement runs, at its smallest, and compares what it says it compares. Nothing is timed.

No ``__init__`` beside this file: the folder would then take the name of the measurements' package.
"""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from benchmarks import dossiers, naive, pgmpy_peer, speed  # noqa: E402
from benchmarks.harness import charts, page, scaling, shell, timing  # noqa: E402

from endbell.chronology import weigh  # noqa: E402

# pgmpy's own code warns of what will change in the libraries under it
pytestmark = pytest.mark.filterwarnings("ignore")


def small(maker: bool) -> naive.Simple:
    packs = (dossiers.MAKER,) if maker else ()
    reference = dossiers.reference_with(packs)
    rows = dossiers.forty_rows(maker)
    text = dossiers.text_of([*rows[5:9], *rows[-6:]], as_of=date(1970, 1, 5), packs=packs)
    return naive.simple_model(dossiers.parsed(text, reference), reference)


# ---- what is weighed


@pytest.mark.parametrize("maker", [True, False])
def test_the_forty_mark_amp_has_forty_marks_that_are_all_weighed(maker: bool) -> None:
    reference = dossiers.reference_with((dossiers.MAKER,) if maker else ())
    dossier = dossiers.parsed(dossiers.forty_marks(maker), reference)
    one_digit = [m for m in dossier.marks if len(m.text.rpartition("-")[2]) == 3]
    coded = [m for m in one_digit if m.kind in ("source-date-code", "date-code")]
    assert (len(dossier.marks), len(coded)) == (40, 27)
    verdict = weigh(dossier, reference, looks=0)
    assert verdict.not_weighed == ()
    assert verdict.build.mode.startswith("1963")
    origins = {p.part: p.original for p in verdict.parts}
    assert all(origins[part] < 0.1 for part in dossiers.SWAPPED)


@pytest.mark.parametrize("how", ["equal", "far apart", "weeks apart"])
def test_twelve_potentiometers_bear_the_codes_they_are_said_to(how: str) -> None:
    reference = dossiers.reference_with(())
    dossier = dossiers.parsed(dossiers.text_of(dossiers.pots(12, how)), reference)
    texts = {m.text for m in dossier.marks if m.part.startswith("pot-")}
    assert len(texts) == (1 if how == "equal" else 12)


# ---- the two that the engine is measured against


@pytest.mark.parametrize("maker", [True, False])
def test_pgmpy_answers_the_simple_model_as_the_naive_grid_does(maker: bool) -> None:
    if why := pgmpy_peer.why_not():
        pytest.skip(why)
    model = small(maker)
    weeks, origins, without = naive.everything(model)
    peer_weeks, peer_origins, peer_without = pgmpy_peer.everything(pgmpy_peer.network(model))
    assert np.abs(weeks - peer_weeks).max() < 1e-12
    assert origins.keys() == peer_origins.keys()
    assert without.keys() == peer_without.keys()
    for part in origins:
        assert np.abs(origins[part] - peer_origins[part]).max() < 1e-12
    for n in without:
        assert np.abs(without[n] - peer_without[n]).max() < 1e-12


def test_one_code_alone_says_the_same_to_the_naive_grid_and_the_engine() -> None:
    """One part, no other to share a delivery with: only stock age and delivery spread differ."""
    reference = dossiers.reference_with(())
    text = dossiers.text_of([{"part": "ot", "kind": "date-code", "text": "6308"}])
    dossier = dossiers.parsed(text, reference)
    rough = naive.posterior(naive.simple_model(dossier, reference))
    numbers = {"stock_age.sigma": 1e-9, "delivery.spread.0": 1.0}
    numbers |= {f"delivery.spread.{e}": 0.0 for e in range(1, 5)}
    exact = weigh(dossier, reference, numbers, looks=0).build.weeks
    assert np.abs(exact - rough).max() < 1e-9


# ---- the page


def test_the_amp_of_forty_marks_is_compared_in_ratios(tmp_path: Path) -> None:
    said = speed.run(["forty"], True, tmp_path).read_text()
    assert "posterior, one mark more" in said
    assert "verdict, looks=2, cold" in said
    assert "naive grid, the same questions" in said
    if pgmpy_peer.why_not() is None:
        assert "pgmpy, network and queries" in said
    else:
        assert "Not compared with pgmpy" in said


def test_commands_are_measured_beside_an_interpreter_that_does_nothing(tmp_path: Path) -> None:
    said = speed.run(["shell"], True, tmp_path).read_text()
    for command in (shell.READ, shell.WEIGH):
        assert f"| `{command}` | at most {shell.LIMITS[command]:g} x" in said
    assert "by own time" in said


def test_growth_is_drawn_or_the_page_says_why_not(tmp_path: Path) -> None:
    said = speed.run(["growth"], True, tmp_path).read_text()
    pictures = sorted(p.name for p in tmp_path.glob("*.svg"))
    if charts.why_none() is None:
        assert pictures == ["speed-marks.svg", "speed-parts.svg", "speed-weeks.svg"]
        assert all(name in said for name in pictures)
    else:
        assert pictures == []
        assert "No charts" in said


def test_a_line_that_takes_too_long_is_not_drawn_further(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(scaling, "LIMIT_SECONDS", 0.0)
    sizes = scaling.Sizes((2, 3), (1950,), (1,), 1, 0.0)
    marks = scaling.measure(sizes)[0]
    assert {p.x for p in marks.points} == {2}
    assert marks.stopped == ("without a maker's pack at 2", "with the maker's pack at 2")


def test_a_verdict_that_would_take_minutes_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(scaling, "LIMIT_POSTERIOR", 0.0)
    series = scaling.measure(scaling.Sizes((2, 3), (1950,), (1,), 1, 0.0))
    assert {p.x for p in series[0].points} == {2}
    assert "not waited for" in "".join(scaling.section(series, {}, None))
    charts.draw(series, tmp_path)


def test_what_is_compared_is_measured_in_turn() -> None:
    seen: list[str] = []
    cases = {name: timing.Case(lambda _, name=name: seen.append(name)) for name in "AB"}
    taken = timing.interleaved(cases, 3)
    assert seen == ["A", "B"] * 4
    assert taken["A"].rounds == taken["B"].rounds == 3


def test_a_bar_says_whether_it_was_met() -> None:
    bars = [
        page.at_most("posterior", 12.0, 9.0, 10, "ms"),
        page.at_least("ratio", 25.0, 24.0, 20, "times"),
    ]
    assert [b.met for b in bars] == [False, True]
    assert "| posterior | at most 10 ms | 12.0 ms | **no** | 9.00 |" in page.bars(bars)
