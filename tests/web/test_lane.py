"""The process that weighs for the server: what it inherits, and what the server keeps."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator

import pytest

from endbell.web.lane import Lane

NAMES = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def told() -> Callable[[object], tuple[list[str | None], int]]:
    import numpy

    square = numpy.ones((200, 200))
    return lambda task: (
        [os.environ.get(name) for name in NAMES],
        len(os.listdir("/proc/self/task")) if (square @ square).all() else 0,
    )


@pytest.fixture
def lane() -> Iterator[Lane]:
    lane = Lane(told)
    yield lane
    lane.close()


@pytest.mark.skipif(sys.platform != "linux", reason="counts threads where Linux lists them")
def test_what_weighs_has_one_thread_for_linear_algebra(lane: Lane) -> None:
    _, (there, threads) = lane.ask("anything").result(60)
    assert there == ["1", "1", "1"]
    assert threads == 1


class Watched(dict[str, str]):
    """An environment that must not be written to: other threads may be reading it."""

    def __setitem__(self, name: str, value: str) -> None:
        raise AssertionError(f"{name} was set")


def test_starting_it_leaves_the_environment_of_the_server_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(os, "environ", Watched(os.environ))
        lane = Lane(told)
        try:
            assert lane.ask("anything").result(60)[0] == "anything"
        finally:
            lane.close()
