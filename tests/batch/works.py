"""Work for the pool's tests; in a module of its own, because workers import it by name."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Sequence
from pathlib import Path

DEADLY = 13


def die() -> None:
    """As the kernel ends a process: nothing can catch it."""
    os.kill(os.getpid(), signal.SIGKILL)


def squares(offset: int = 0) -> Callable[[Sequence[int]], list[int]]:
    return lambda chunk: [n * n + offset for n in chunk]


def squares_unless_deadly() -> Callable[[Sequence[int]], list[int]]:
    def work(chunk: Sequence[int]) -> list[int]:
        for n in chunk:
            if n == DEADLY:
                die()
        return [n * n for n in chunk]

    return work


def killed_once(folder: str, victim: int) -> Callable[[Sequence[int]], list[int]]:
    """The first worker that meets ``victim`` is killed in the middle of its chunk."""

    def work(chunk: Sequence[int]) -> list[int]:
        (Path(folder) / f"{chunk[0]}-{os.getpid()}").touch()
        if victim in chunk:
            try:
                (Path(folder) / "killed").touch(exist_ok=False)
            except FileExistsError:
                pass
            else:
                die()
        return [n * n for n in chunk]

    return work


def never_ready() -> Callable[[Sequence[int]], list[int]]:
    die()
    return list


def failing() -> Callable[[Sequence[int]], list[int]]:
    def work(chunk: Sequence[int]) -> list[int]:
        raise ValueError("no such valve")

    return work


def threads() -> Callable[[object], list[str | None]]:
    names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
    return lambda chunk: [os.environ.get(name) for name in names]


def large(size: int) -> Callable[[bytes], bytes]:
    return lambda chunk: chunk[:1] * size
