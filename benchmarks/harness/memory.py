"""How much memory this process and its children hold together, at most."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

EVERY = 0.1  # seconds


@dataclass
class Peak:
    """Bytes: resident in all, each process's shared pages counted in each of them."""

    resident: int = 0


@contextmanager
def watched() -> Iterator[Peak]:
    """Look every tenth of a second; Linux only, else nothing is seen."""
    peak = Peak()
    done = threading.Event()

    def look() -> None:
        while not done.wait(EVERY):
            peak.resident = max(peak.resident, resident())

    watcher = threading.Thread(target=look, daemon=True)
    watcher.start()
    try:
        yield peak
    finally:
        done.set()
        watcher.join()


def resident() -> int:
    """Bytes resident now, of this process and all below it."""
    return sum(map(_resident_of, _family(os.getpid())))


def _family(pid: int) -> list[int]:
    found = [pid]
    try:
        tasks = list(Path(f"/proc/{pid}/task").iterdir())
        for task in tasks:
            for child in (task / "children").read_text().split():
                found += _family(int(child))
    except OSError:
        pass
    return found


def _resident_of(pid: int) -> int:
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    except (OSError, IndexError):
        return 0
    return pages * os.sysconf("SC_PAGE_SIZE")
