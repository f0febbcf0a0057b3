"""Work in many processes: everything is done once, whatever becomes of a worker."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from endbell.batch.pool import Mending, WorkersDie, WorkFailed, run_chunks

from . import works


def chunks(count: int, size: int = 4) -> Iterator[tuple[int, list[int]]]:
    for n in range(count):
        yield n, list(range(n * size, (n + 1) * size))


def squares(count: int, size: int = 4) -> dict[int, list[int]]:
    return {n: [i * i for i in chunk] for n, chunk in chunks(count, size)}


def joined(pieces: Sequence[list[int]]) -> list[int]:
    return [n for piece in pieces for n in piece]


def lost(item: int, reason: str) -> list[int]:
    assert "signal 9" in reason
    return [-item]


@pytest.mark.parametrize("workers", [0, 1, 2])
def test_every_chunk_comes_back_once_under_its_key(workers: int) -> None:
    done = list(run_chunks(works.squares, chunks(9), workers, (0,)))
    assert len(done) == 9
    assert dict(done) == squares(9)


def test_what_is_costly_is_made_with_what_is_given_at_the_start() -> None:
    assert dict(run_chunks(works.squares, chunks(1), 1, (100,))) == {0: [100, 101, 104, 109]}


def test_nothing_to_do_starts_nothing() -> None:
    assert list(run_chunks(works.never_ready, iter(()), 2)) == []


def test_chunks_are_taken_only_as_workers_come_free() -> None:
    taken = 0

    def counted() -> Iterator[tuple[int, list[int]]]:
        nonlocal taken
        for key, chunk in chunks(40):
            taken += 1
            yield key, chunk

    for done, _ in enumerate(run_chunks(works.squares, counted(), 2), start=1):
        assert taken <= done + 4


def test_a_killed_worker_loses_nothing_and_repeats_its_chunk_alone(tmp_path: Path) -> None:
    found = dict(run_chunks(works.killed_once, chunks(8), 2, (str(tmp_path), 9)))
    assert found == squares(8)
    begun = sorted(int(p.name.partition("-")[0]) for p in tmp_path.glob("*-*"))
    assert begun == sorted([*(4 * n for n in range(8)), 8])


def test_the_item_that_kills_is_found_and_the_others_are_done() -> None:
    mending = Mending(joined, lost)
    found = dict(run_chunks(works.squares_unless_deadly, chunks(3, 8), 2, mending=mending))
    expected = squares(3, 8)
    expected[1][works.DEADLY - 8] = -works.DEADLY
    assert found == expected


def test_a_single_deadly_item_is_a_chunk_too() -> None:
    source = iter([("a", [1]), ("b", [works.DEADLY])])
    mending = Mending(joined, lost)
    found = dict(run_chunks(works.squares_unless_deadly, source, 1, mending=mending))
    assert found == {"a": [1], "b": [-works.DEADLY]}


def test_a_chunk_that_kills_and_that_nobody_mends_is_named() -> None:
    with pytest.raises(WorkersDie, match=r"chunk 3 ends its workers .*signal 9"):
        list(run_chunks(works.squares_unless_deadly, chunks(5), 1))


def test_workers_that_never_begin_are_not_started_for_ever() -> None:
    with pytest.raises(WorkersDie, match="before they begin"):
        list(run_chunks(works.never_ready, chunks(2), 1))


def test_a_fault_in_the_work_is_raised_with_its_place() -> None:
    with pytest.raises(WorkFailed, match="ValueError: no such valve") as failed:
        list(run_chunks(works.failing, chunks(2), 1))
    assert "works.py" in failed.value.trace


def test_a_worker_has_one_thread_for_linear_algebra_and_we_keep_ours(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("OMP_NUM_THREADS", "7")
    monkeypatch.delenv("MKL_NUM_THREADS", raising=False)
    assert dict(run_chunks(works.threads, iter([(0, None)]), 1)) == {0: ["1", "1", "1"]}
    assert os.environ["OMP_NUM_THREADS"] == "7"
    assert "MKL_NUM_THREADS" not in os.environ


def test_chunks_and_results_larger_than_a_pipe_pass_both_ways() -> None:
    size = 3_000_000
    source = ((n, bytes([n]) * size) for n in range(4))
    found = dict(run_chunks(works.large, source, 1, (size,)))
    assert all(found[n] == bytes([n]) * size for n in range(4))


def test_when_the_caller_is_killed_its_workers_leave(tmp_path: Path) -> None:
    """The pipe that the workers hold open comes to its end only when all of them are gone."""
    script = f"""
import os, sys
sys.path[:0] = {sys.path!r}
from batch.works import squares
from endbell.batch.pool import run_chunks
if __name__ == "__main__":
    for key, result in run_chunks(squares, ((n, [n]) for n in range(10**9)), 2):
        if key == 5:
            os.kill(os.getpid(), 9)
"""
    file = tmp_path / "caller.py"
    file.write_text(script)
    read, write = os.pipe()
    caller = subprocess.Popen([sys.executable, str(file)], stdout=write)
    os.close(write)
    assert os.read(read, 1) == b""  # waits until nobody has it any more
    assert caller.wait() == -9
    os.close(read)
