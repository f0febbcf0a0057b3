"""The same work by way of a Dask scheduler: the same bytes."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from endbell.batch.errors import NoScheduler
from endbell.batch.on_dask import run_on_dask
from endbell.batch.pool import Mending, WorkersDie, WorkFailed

from . import works
from .conftest import Weigh
from .test_pool import chunks, joined, squares
from .test_run import all_bytes

# what the library's own code warns of is the library's
pytestmark = pytest.mark.filterwarnings("ignore")


@pytest.fixture(scope="module")
def scheduler() -> Iterator[Any]:
    """A scheduler with two workers in this process."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None
    ) as cluster:
        yield cluster


def test_every_chunk_comes_back_once_under_its_key(scheduler: Any) -> None:
    done = list(run_on_dask(works.squares, chunks(9), scheduler.scheduler_address, (0,)))
    assert len(done) == 9
    assert dict(done) == squares(9)


def test_chunks_are_sent_only_as_workers_come_free(scheduler: Any) -> None:
    taken = 0

    def counted() -> Iterator[tuple[int, list[int]]]:
        nonlocal taken
        for key, chunk in chunks(20):
            taken += 1
            yield key, chunk

    found = run_on_dask(works.squares, counted(), scheduler.scheduler_address, (0,))
    for done, _ in enumerate(found, start=1):
        assert taken <= done + 4


def test_the_results_are_the_same_bytes(weigh: Weigh, folder: Path, scheduler: Any) -> None:
    here = weigh(folder, out="here", chunk=4)
    there = weigh(folder, out="there", chunk=4, scheduler=scheduler.scheduler_address)
    assert all_bytes(there) == all_bytes(here)


def test_a_fault_in_the_work_is_raised(scheduler: Any) -> None:
    with pytest.raises(WorkFailed, match="ValueError: no such valve"):
        list(run_on_dask(works.failing, chunks(2), scheduler.scheduler_address))


def test_an_item_that_kills_workers_is_found() -> None:
    """In processes of their own: these are really killed."""
    distributed = pytest.importorskip("distributed")
    import dask

    # the fewest tries: what only waited beside the deadly one is counted as deadly with it
    quick = {"distributed.scheduler.allowed-failures": 0}
    source = iter([("a", [1, 2]), ("b", [works.DEADLY, 3])])
    with (
        dask.config.set(quick),
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, dashboard_address=None
        ) as cluster,
    ):
        address = cluster.scheduler_address
        mending = Mending(joined, lambda item, reason: [-item])
        found = dict(run_on_dask(works.squares_unless_deadly, source, address, mending=mending))
        assert found == {"a": [1, 4], "b": [-works.DEADLY, 9]}
        with pytest.raises(WorkersDie, match="chunk 0 ends its workers"):
            list(run_on_dask(works.squares_unless_deadly, iter([(0, [works.DEADLY])]), address))
        # closing while the killed worker is being started again fails inside distributed
        with distributed.Client(address) as client:
            client.wait_for_workers(1, timeout=60)


def test_a_scheduler_that_is_not_there_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    from endbell.batch import on_dask

    monkeypatch.setattr(on_dask, "ANSWERS_WITHIN", 0.2)
    with pytest.raises(NoScheduler, match="no Dask scheduler answers at tcp://127"):
        list(run_on_dask(works.squares, chunks(1), "tcp://127.0.0.1:9"))


def test_without_the_library_a_sentence_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(NoScheduler, match=r"pip install 'endbell\[scale\]'"):
        list(run_on_dask(works.squares, chunks(1), "tcp://127.0.0.1:9"))
