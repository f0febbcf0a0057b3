"""What a server and the processes below it use: memory, processor time.  Linux only."""

from __future__ import annotations

import asyncio
import os
import time
from dataclasses import dataclass, field
from pathlib import Path

MB = 2**20
TICK = os.sysconf("SC_CLK_TCK")


def family(pid: int) -> list[int]:
    """A process and all below it."""
    found = [pid]
    try:
        for task in Path(f"/proc/{pid}/task").iterdir():
            for child in (task / "children").read_text().split():
                found += family(int(child))
    except OSError:
        pass
    return found


def memory(pid: int) -> int:
    """Bytes of a family, what several share counted once (proportional set size)."""
    return sum(_shared_out(each) for each in family(pid))


def processor(pid: int) -> float:
    """Seconds of processor time that a family has used."""
    used = 0.0
    for each in family(pid):
        try:
            fields = Path(f"/proc/{each}/stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        used += (int(fields[11]) + int(fields[12])) / TICK
    return used


@dataclass
class Watch:
    """Looks once a second.  ``megabytes``: seconds since the beginning, MB."""

    pid: int
    megabytes: list[tuple[float, float]] = field(default_factory=list[tuple[float, float]])

    async def look(self) -> None:
        """Until it is cancelled."""
        began = time.monotonic()
        while True:
            self.megabytes.append((time.monotonic() - began, memory(self.pid) / MB))
            await asyncio.sleep(1.0)


def _shared_out(pid: int) -> int:
    try:
        for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return int(line.split()[1]) * 1024
    except OSError:
        pass
    return 0
