"""The clock: several things measured in turn, so that a busy minute falls on all of them alike."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from statistics import median
from typing import Any


@dataclass(frozen=True)
class Case:
    """``run`` is timed, on what ``prepare`` (not timed) hands it."""

    run: Callable[[Any], object]
    prepare: Callable[[], Any] = lambda: None


@dataclass
class Taken:
    """Seconds on the wall and of the processor, one pair a round."""

    wall: list[float] = field(default_factory=list[float])
    cpu: list[float] = field(default_factory=list[float])

    @property
    def ms(self) -> float:
        """Median on the wall, milliseconds."""
        return 1000 * median(self.wall)

    @property
    def least_ms(self) -> float:
        return 1000 * min(self.wall)

    @property
    def cpu_ms(self) -> float:
        """Median of the processor's time, all threads, milliseconds."""
        return 1000 * median(self.cpu)

    @property
    def rounds(self) -> int:
        return len(self.wall)


def set_apart() -> None:
    """Take all that is loaded out of the collector's rounds.

    Else every collection during a measurement would also walk through the libraries of the others
    that are compared, and be charged to the one measured.
    """
    gc.collect()
    gc.freeze()


def interleaved(
    cases: Mapping[str, Case],
    rounds: int,
    *,
    seconds: float = float("inf"),
    least: int = 3,
    clock: Callable[[], tuple[float, float]] | None = None,
    warm_up: bool = True,
) -> dict[str, Taken]:
    """A B C, A B C, ...: every case once a round, until ``rounds`` or ``seconds`` are used up.

    At least ``least`` rounds are made; one round before them is not counted (``warm_up``).
    ``clock``: (wall, processor) seconds, the processor's of this process unless said otherwise.
    """
    read = clock or (lambda: (time.perf_counter(), time.process_time()))
    set_apart()
    taken = {name: Taken() for name in cases}
    began = time.perf_counter()
    for turn in range(-1 if warm_up else 0, rounds):
        if turn >= min(least, rounds) and time.perf_counter() - began > seconds:
            break
        for name, case in cases.items():
            given = case.prepare()
            gc.collect()
            wall, cpu = read()
            case.run(given)
            wall_after, cpu_after = read()
            if turn >= 0:
                taken[name].wall.append(wall_after - wall)
                taken[name].cpu.append(cpu_after - cpu)
    return taken
