"""``endbell learn``: from a folder of finished dossiers to a pack of the shop's own."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from endbell.chronology import assumptions_in_force
from endbell.cli import learning, learning_work
from endbell.learning.simulation import Simulator
from endbell.reference import load_reference

from .conftest import Run, one_sentence

AS_OF = date(1976, 3, 1)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six finished dossiers; the pots of this shop's amps waited twice as long."""
    reference, _ = load_reference(("brackwater",))
    assume = assumptions_in_force(reference, {})
    assume["lag.potentiometer.median_weeks"] *= 2
    simulator = Simulator(reference, assume, packs=("brackwater",), as_of=AS_OF)
    folder = tmp_path_factory.mktemp("drawn") / "finished"
    folder.mkdir()
    for i in range(6):
        (folder / f"{i:02d}.toml").write_text(simulator.draw(8, i).text, "utf-8")
    return folder


@pytest.fixture
def finished(drawn: Path) -> Path:
    """The same in the command's own folder."""
    return Path(shutil.copytree(drawn, "finished"))


def test_a_pack_is_learned_checked_and_used(run: Run, finished: Path) -> None:
    (finished / "twin.toml").write_bytes((finished / "00.toml").read_bytes())
    ran = run("learn", "finished", "--out", "packs/learned", "--json", "--workers", "0")
    assert ran.status == 0
    assert ran.json["dossiers"] == 7
    assert ran.json["patterns"] == 6
    values = {v["name"]: v for v in ran.json["values"]}
    pots = values["lag.potentiometer.median_weeks"]
    assert pots["pack"] == 14
    assert pots["low"] < pots["value"] < pots["high"]
    assert pots["few"] == (pots["records"] < 20)
    moved = [abs(v["moved"]) for v in ran.json["values"]]
    assert moved == sorted(moved, reverse=True)
    assert run("packs", "check", "packs/learned").status == 0
    assert not Path("packs/learned.work").exists()
    weighed = run("weigh", "finished/00.toml", "--packs", "learned", "--json").json
    assert weighed["assumptions"]["lag.potentiometer.median_weeks"] == pytest.approx(
        pots["value"], rel=1e-3
    )

    # a pack has no say in its own making: with it among the dossiers' packs, the same comes out
    for file in finished.glob("*.toml"):
        text = file.read_text("utf-8")
        file.write_text(text.replace('["brackwater"]', '["brackwater", "learned"]'), "utf-8")
    refused = run("learn", "finished", "--out", "packs/learned")
    assert refused.status == 2
    assert one_sentence(refused.err)
    assert "--force" in refused.err
    again = run("learn", "finished", "--out", "packs/learned", "--force", "--workers", "0")
    assert again.status == 0
    assert "lag.potentiometer.median_weeks" in again.out or "replaced." in again.out
    weighed_again = run("weigh", "finished/00.toml", "--json").json
    assert weighed_again["assumptions"] == weighed["assumptions"]


def test_a_stopped_run_goes_on_and_ends_the_same(
    run: Run, finished: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(learning, "WEIGHED", 2)
    arguments = ("learn", "finished", "--out", "packs/learned", "--work", "kept", "--workers", "0")
    weighed: list[int] = []
    whole = learning_work.Weigher.__call__

    def stopping(self: learning_work.Weigher, task: learning_work.Task) -> tuple[bytes, bytes]:
        weighed.append(len(task.rows))
        if len(weighed) == 5:
            raise KeyboardInterrupt
        return whole(self, task)

    monkeypatch.setattr(learning_work.Weigher, "__call__", stopping)
    stopped = run(*arguments)
    assert stopped.status == 2
    assert "goes on from there" in stopped.err
    assert not Path("packs/learned").exists()
    before = len(weighed)
    assert run(*arguments).status == 0
    on = len(weighed) - before
    first = {f.name: f.read_bytes() for f in Path("packs/learned").iterdir()}
    shutil.rmtree("kept")
    before = len(weighed)
    assert run(*arguments, "--force").status == 0
    assert len(weighed) - before == on + 4  # the four that had been weighed before the stop
    assert {f.name: f.read_bytes() for f in Path("packs/learned").iterdir()} == first


def test_what_can_not_be_read_is_said_and_left_out(run: Run, finished: Path) -> None:
    for file in sorted(finished.glob("*.toml"))[2:]:
        file.unlink()
    (finished / "broken.toml").write_text("[[mark]\n", "utf-8")
    ran = run("learn", "finished", "--out", "packs/learned", "--workers", "0")
    assert ran.status == 1
    assert "broken.toml" in ran.err
    assert "1 files left out" in ran.out
    assert "few: less than" in ran.out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("nowhere", "--out", "packs/x"), "nowhere"),
        (("finished", "--out", "packs/a b"), "a pack's id"),
        (("finished", "--out", "finished"), "something else lies there"),
        (("empty", "--out", "packs/x"), "no dossiers"),
    ],
)
def test_what_can_not_be_done_is_one_sentence(
    run: Run, finished: Path, arguments: tuple[str, ...], says: str
) -> None:
    Path("empty").mkdir()
    ran = run("learn", *arguments)
    assert ran.status == 2
    assert one_sentence(ran.err)
    assert says in ran.err
    assert not Path("packs/x.work").exists()


def test_another_s_pack_is_never_written_over(run: Run, finished: Path) -> None:
    run("packs", "name-source", "993", "Coil people")
    ran = run("learn", "finished", "--out", "packs/shop", "--force")
    assert ran.status == 2
    assert one_sentence(ran.err)
    assert "did not make" in ran.err


def test_dossiers_that_changed_are_read_anew(run: Run, finished: Path) -> None:
    """A kept run counts what lies there now, not what lay there before as well."""
    for file in sorted(finished.glob("*.toml"))[2:]:
        file.unlink()
    arguments = ("learn", "finished", "--out", "packs/learned", "--work", "kept", "--json")
    assert run(*arguments, "--workers", "0").json["dossiers"] == 2
    (finished / "00.toml").rename(finished / "09.toml")
    (finished / "more.toml").write_bytes((finished / "01.toml").read_bytes())
    again = run(*arguments, "--force", "--workers", "0").json
    assert (again["dossiers"], again["patterns"]) == (3, 2)


def test_without_a_maker_s_pack_lags_and_rates_are_learned(run: Run, finished: Path) -> None:
    for file in sorted(finished.glob("*.toml"))[2:]:
        file.unlink()
    for file in finished.glob("*.toml"):
        text = file.read_text("utf-8").replace('packs = ["brackwater"]', "")
        file.write_text(text, "utf-8")
    ran = run("learn", "finished", "--out", "packs/learned", "--json", "--workers", "0")
    assert ran.status in (0, 1)
    names = {v["name"].partition(".")[0] for v in ran.json["values"]}
    assert names == {"lag", "replaced", "married", "digits"}
    assert run("packs", "check", "packs/learned").status == 0
