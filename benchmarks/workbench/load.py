"""The workbench under load: ``python -m benchmarks.workbench.load``.

A real server with 10,000 dossiers (about 100,000 marks) behind it, asked fifty times a second for
a minute, whether it has answered the last request or not: pages, fragments, searches, entries and
what stands under the field while typing.  An answer's time runs from the moment it was due to be
asked, so that a server that falls behind can't hide it.  Forty pages stand open besides and fetch
their panels anew whenever they are told of a verdict.  Writes results/workbench.md and .json.
"""

from __future__ import annotations

import argparse
import asyncio
import io
import os
import random
import shutil
import time
from collections.abc import AsyncGenerator, Iterator, Sequence
from contextlib import asynccontextmanager, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from PIL import Image
from tests import postgres
from tests.web.running import Running, running

from benchmarks.harness import machine
from endbell.store import By, Change, Database, append, open_database
from endbell.store.photos import keep
from endbell.web.csrf_token import proof

from .client import Answer, Asked, Lines, at_rate
from .filled import copy_into, count_of, fill, ids_of
from .mix import PANELS, Shop, requests
from .page import summary, write
from .watch import Watch, processor

WORK = Path("build/workbench")
BENCH, PHOTOS = 40, 24
WARM_UP = 10
TOLD = "panels, as a page is told to"


@dataclass(frozen=True)
class Run:
    """What one minute came to."""

    answers: list[Answer]
    told: list[Answer]
    megabytes: list[tuple[float, float]]
    server_seconds: float
    own_seconds: float
    wall_seconds: float
    load: str
    log: str


@contextmanager
def sqlite(folder: Path, source: Path) -> Iterator[Running]:
    """A server over a copy of the database in ``source``."""
    shutil.copytree(source, folder, dirs_exist_ok=True)
    with running(folder) as server:
        yield server


@contextmanager
def postgresql(folder: Path, source: Database) -> Iterator[Running]:
    """A server over a PostgreSQL that flushes to the disk, with the rows of ``source``."""
    with postgres.running(lasting=True) as server, postgres.database(server) as name:
        copy_into(source, folder, server.url(name)).close()
        with running(folder, server.url(name)) as made:
            yield made


def prepared(server: Running, seed: int = 1) -> tuple[Shop, str]:
    """What is asked about, with photos on the amps of the bench; the cookie of a session."""
    db = server.open()
    dossiers = ids_of(db)
    bench = random.Random(seed).sample(dossiers, BENCH)
    photos: list[str] = []
    for n in range(PHOTOS):
        out = io.BytesIO()
        Image.effect_noise((1200, 900), 40 + n).convert("RGB").save(out, "JPEG", quality=80)
        kept = keep(db, [out.getvalue()], f"photo-{n}.jpg")
        data = {"photo": kept.sha256, "name": kept.name, "type": kept.type, "bytes": kept.bytes}
        append(db, bench[n], [Change("photo-added", data)], by=By("simulator", "benchmark"))
        photos.append(kept.sha256)
    db.close()
    name, secret = server.cookie("technician")
    return Shop(dossiers, bench, photos, proof(secret)), f"{name}={secret}"


async def minute(server: Running, seconds: int, a_second: float) -> Run:
    """Warm up for a while, then ask for ``seconds``."""
    shop, cookie = prepared(server)
    assert server.process is not None
    pid = server.process.pid
    lines = Lines(server.address, {"Cookie": cookie})
    warm = [Asked("warm", f"/dossiers/{d}/{panel}") for d in shop.bench for panel in PANELS[:1]]
    for asked in (*warm, Asked("warm", "/dossiers"), Asked("warm", "/dossiers?sort=number")):
        await lines.ask(asked, time.perf_counter())
    await at_rate(lines, requests(shop, int(WARM_UP * a_second), seed=2), a_second)
    watch = Watch(pid)
    looking = asyncio.create_task(watch.look())
    async with open_pages(lines, shop) as told:
        before, own, began = processor(pid), time.process_time(), time.monotonic()
        wanted = list(requests(shop, int(seconds * a_second)))
        answers = await at_rate(lines, wanted, a_second)
        run = Run(
            answers,
            told,
            watch.megabytes,
            processor(pid) - before,
            time.process_time() - own,
            time.monotonic() - began,
            machine.load(),
            server.said(),
        )
    looking.cancel()
    lines.close()
    return run


@asynccontextmanager
async def open_pages(lines: Lines, shop: Shop) -> AsyncGenerator[list[Answer]]:
    """A page open on each amp of the bench; the answers to what they fetch when told."""
    told: list[Answer] = []
    fetches: set[asyncio.Task[None]] = set()

    async def fetch(asked: Asked) -> None:
        told.append(await lines.ask(asked, time.perf_counter()))

    async def page(dossier: str) -> None:
        reader, writer = await lines.stream(f"/dossiers/{dossier}/events")
        try:
            while line := await reader.readline():
                if line.startswith(b"event: verdict"):
                    for panel in PANELS:
                        asked = Asked(TOLD, f"/dossiers/{dossier}/{panel}")
                        fetches.add(asyncio.create_task(fetch(asked)))
        finally:
            writer.close()

    pages = [asyncio.create_task(page(dossier)) for dossier in shop.bench]
    await asyncio.sleep(0.5)
    try:
        yield told
        await asyncio.gather(*fetches)
    finally:
        for each in pages:
            each.cancel()
            with suppress(asyncio.CancelledError):
                await each


def measured(which: str, source: Path, seconds: int, a_second: float) -> dict[str, Any]:
    """One database under load."""
    with TemporaryDirectory(prefix="load-") as folder:
        at = Path(folder) / "shop"
        db = open_database(source)
        marks = count_of(db, "marks")
        place = sqlite(at, source) if which == "SQLite" else postgresql(at, db)
        with place as server:
            run = asyncio.run(minute(server, seconds, a_second))
        db.close()
    found = summary(which, run.answers, run.told, run.megabytes)
    return found | {
        "marks": marks,
        "a_second": a_second,
        "seconds": seconds,
        "server_seconds": run.server_seconds,
        "own_seconds": run.own_seconds,
        "wall_seconds": run.wall_seconds,
        "load": run.load,
        "locked": "database is locked" in run.log,
        "log": run.log.splitlines()[-5:],
    }


def main(words: Sequence[str] | None = None) -> None:
    """Measure, write the page."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--dossiers", type=int, default=10_000)
    asked.add_argument("--seconds", type=int, default=60)
    asked.add_argument("--rate", type=float, default=50.0)
    asked.add_argument("--only", choices=("SQLite", "PostgreSQL"))
    asked.add_argument("--work", type=Path, default=WORK, help="where the database is kept")
    asked.add_argument("--nice", type=int, default=0, help="below 0: ahead of other work here")
    asked.add_argument("--out", type=Path, help="the folder of the page")
    args = asked.parse_args(words)
    fill(args.work, args.dossiers).close()
    priority = os.nice(args.nice)  # the server inherits it
    for which in ("SQLite", "PostgreSQL"):
        if args.only in (None, which):
            found = measured(which, args.work, args.seconds, args.rate)
            write({which: found | {"priority": priority}}, args.out)


if __name__ == "__main__":
    main()
