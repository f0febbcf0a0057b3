"""Long lists: ``python -m benchmarks.batch``.  How many dossiers a second, in how much memory.

Writes results/batch.json (every measurement, with its command and versions) and results/batch.md.
A size measured again takes the place of the last; others stay: the million is asked for by itself,
``python -m benchmarks.batch --only growth --sizes 1000000``.
"""

from __future__ import annotations

import argparse
import gc
import json
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from importlib import metadata
from pathlib import Path
from statistics import median
from typing import Any

if not __package__:  # run by its path
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.harness import drawn, machine, memory, page
from endbell.batch.archives import members
from endbell.batch.chunking import LARGEST, cut
from endbell.batch.inputs import open_inputs
from endbell.batch.packs import Settings
from endbell.batch.pool import run_chunks
from endbell.batch.run import Plan, open_journal
from endbell.batch.run import run as run_batch
from endbell.batch.weigher import Weigher
from endbell.chronology.origins import part_verdicts
from endbell.chronology.weighing import posterior
from endbell.dossier import Dossier

RESULTS = Path(__file__).resolve().parent / "results"
PARTS = ("rate", "growth")
SIZES = (1_000, 10_000, 100_000)
RATE = 3_000
TWELVE = drawn.Deal()
ABOUT_TWELVE = drawn.Deal(least=10, most=14)
MOST_MEMORY = 1.5 * 2**30

Found = dict[str, Any]


class Origins(Weigher):
    """Posterior and origins alone: no sets, no claim, no row."""

    def __call__(self, chunk: Sequence[Any]) -> int:  # type: ignore[override]
        gc.disable()  # as the whole work does
        for item in chunk:
            self._alone(self._open(item)[0])
        gc.enable()
        return len(chunk)

    def _alone(self, dossier: Dossier) -> None:
        reference = self._packs.reference(dossier.packs)
        post = posterior(dossier, reference, self._assume, workspace=self._workspace, slack=0.0)
        part_verdicts(post.joint, dossier.parts)


class Opened(Weigher):
    """Dossiers read and checked, and not weighed."""

    def __call__(self, chunk: Sequence[Any]) -> int:  # type: ignore[override]
        for item in chunk:
            self._open(item)
        return len(chunk)


def weighed(file: Path, count: int, workers: int, scratch: Path) -> Found:
    """The whole of ``endbell batch`` on a tar, from its opening to its last file."""
    out = scratch / "out"
    shutil.rmtree(out, ignore_errors=True)
    with memory.watched() as peak, _clock() as clock:
        inputs = open_inputs([file], lambda text: True)
        journal = open_journal(out)
        journal.tell("chunk_size", min(LARGEST, max(count // (8 * workers), 4)))
        plan = Plan(inputs, Settings(day="2026-03-02"), out, workers, count)
        done = run_batch(plan, journal).progress
        journal.close()
    assert (done.done, done.errors) == (count, 0), done
    return clock() | {"peak": peak.resident}


def alone(work: type[Weigher], file: Path, workers: int) -> Found:
    """A part of the work on the same chunks, without journal and files."""
    chunks = ((c.content, c.items) for c in cut(members(file), LARGEST // 2))
    settings = Settings(day="2026-03-02")
    with memory.watched() as peak, _clock() as clock:
        for _ in run_chunks(work, chunks, workers, (settings,)):
            pass
    return clock() | {"peak": peak.resident}


class _Clock:
    """Seconds on the wall, and of the processor with all children that have ended."""

    def __enter__(self) -> Callable[[], Found]:
        self._begin = (time.perf_counter(), _cpu())
        self._end = self._begin
        return lambda: {
            "seconds": self._end[0] - self._begin[0],
            "cpu": self._end[1] - self._begin[1],
        }

    def __exit__(self, *error: object) -> None:
        self._end = (time.perf_counter(), _cpu())


_clock = _Clock


def _cpu() -> float:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(u.ru_utime + u.ru_stime for u in used)


# ---- what is measured


def rate(count: int, rounds: int, data: Path, scratch: Path) -> Found:
    """One worker, two workers, and parts of the work by two, in turn."""
    file = drawn.tar_of(TWELVE, count, data, 2)
    cases: dict[str, Callable[[], Found]] = {
        "every column, 1 worker": lambda: weighed(file, count, 1, scratch),
        "every column, 2 workers": lambda: weighed(file, count, 2, scratch),
        "posterior and origins alone, 2 workers": lambda: alone(Origins, file, 2),
        "reading alone, 2 workers": lambda: alone(Opened, file, 2),
    }
    taken: dict[str, list[Found]] = {name: [] for name in cases}
    for _ in range(rounds):
        for name, case in cases.items():
            taken[name].append(case())
    return {
        "dossiers": count,
        "rounds": rounds,
        "cases": {
            name: {key: median(f[key] for f in found) for key in found[0]}
            for name, found in taken.items()
        },
    }


def growth(size: int, workers: int, data: Path, scratch: Path) -> Found:
    """So many dossiers in one run."""
    file = drawn.tar_of(ABOUT_TWELVE, size, data, workers)
    found = weighed(file, size, workers, scratch)
    out = scratch / "out"
    sizes = {f.name: f.stat().st_size for f in sorted(out.iterdir())}
    return (
        found
        | {"dossiers": size, "workers": workers, "input": file.stat().st_size}
        | {"files": sizes}
    )


# ---- the page


def written(results: Path) -> Path:
    """The page of all that has been measured."""
    kept: Found = json.loads((results / "batch.json").read_text(encoding="utf-8"))
    lines = [
        "# Long lists",
        "",
        "`endbell batch` from the opening of its input to the last of its files, on dossiers that"
        " `endbell simulate`'s simulator draws (packs: brackwater). Times are of one machine, and"
        " other work on it is in them: dossiers a second of the processor (two cores, each"
        " counted) are the steadier figure. Memory is that of all processes together, pages they"
        " share counted in each.",
        "",
        *_bars(kept),
        *_rate(kept.get("rate")),
        *_growth([found for _, found in sorted(kept.get("growth", {}).items(), key=_size)]),
    ]
    file = results / "batch.md"
    file.write_text("\n".join(lines).rstrip() + "\n", encoding="utf-8")
    return file


def _size(item: tuple[str, Found]) -> int:
    return int(item[0])


def _bars(kept: Found) -> list[str]:
    bars: list[page.Bar] = []
    if "rate" in kept:
        cases, count = kept["rate"]["cases"], kept["rate"]["dossiers"]
        two, one = cases["every column, 2 workers"], cases["every column, 1 worker"]
        per_core = 2 * count / two["cpu"]
        bars.append(
            page.at_least(
                "dossiers of 12 marks a second, 2 workers, every column",
                count / two["seconds"],
                per_core,
                300,
                "a second",
            )
        )
        ratio = one["seconds"] / two["seconds"]
        bars.append(
            page.at_least("2 workers beside 1", ratio, 2 * one["cpu"] / two["cpu"], 1.7, "times")
        )
    for found in kept.get("growth", {}).values():
        peak = found["peak"] / 2**30
        what = f"memory in all, {found['dossiers']:,} dossiers"
        bars.append(page.at_most(what, peak, peak, MOST_MEMORY / 2**30, "GiB"))
    return ["## Bars", "", *page.bars(bars)] if bars else []


def _rate(found: Found | None) -> list[str]:
    if found is None:
        return []
    count = found["dossiers"]
    rows = [
        [
            name,
            f"{count / f['seconds']:,.0f}",
            f"{1000 * f['cpu'] / count:.2f}",
            f"{2 * count / f['cpu']:,.0f}",
            f"{f['peak'] / 2**20:,.0f}",
        ]
        for name, f in found["cases"].items()
    ]
    head = ("", "a second", "processor, ms each", "a second, two cores free", "memory, MiB")
    return [
        f"## {count:,} dossiers of 12 marks",
        "",
        _how(found),
        "",
        f"Medians of {found['rounds']} rounds, the cases in turn; start of the workers included.",
        "",
        *page.table(head, rows),
    ]


def _growth(found: Sequence[Found]) -> list[str]:
    if not found:
        return []
    rows = [
        [
            f"{f['dossiers']:,}",
            str(f["workers"]),
            f"{f['seconds']:,.0f}",
            f"{f['dossiers'] / f['seconds']:,.0f}",
            f"{1000 * f['cpu'] / f['dossiers']:.2f}",
            f"{f['peak'] / 2**20:,.0f}",
            f"{f['files'].get('verdicts.csv', 0) / 2**20:,.1f}",
            f"{f['files'].get('verdicts.parquet', 0) / 2**20:,.1f}",
        ]
        for f in found
    ]
    head = (
        "dossiers", "workers", "seconds", "a second", "processor, ms each", "memory, MiB",
        "CSV, MiB", "Parquet, MiB",
    )  # fmt: skip
    hows = list(dict.fromkeys(_how(f) for f in found))
    return ["## Growth, dossiers of 10 to 14 marks", "", *_parted(hows), *page.table(head, rows)]


def _parted(lines: Sequence[str]) -> Iterator[str]:
    for line in lines:
        yield from (line, "")


def _how(found: Found) -> str:
    return f"Command: `{found['command']}`. {found['on']}"


def _on(load: str) -> str:
    versions = [machine.versions()]
    for name in ("pyarrow",):
        try:
            versions.append(f"{name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            versions.append(f"{name} not installed")
    return (
        f"{', '.join(versions)}. {machine.processor()}. Load average (1, 5, 15 minutes) before:"
        f" {load}; after: {machine.load()}."
    )


def run(
    parts: Sequence[str], sizes: Sequence[int], *, count: int, rounds: int, workers: int,
    data: Path | None, out: Path, command: str,
) -> Path:  # fmt: skip
    """Measure, add to what was measured before, and write the page; its path."""
    out.mkdir(parents=True, exist_ok=True)
    file = out / "batch.json"
    kept: Found = json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}

    def keep(part: str, key: str | None, measure: Callable[[], Found]) -> None:
        load = machine.load()
        found = measure() | {"command": command, "on": _on(load)}
        if key is None:
            kept[part] = found
        else:
            kept.setdefault(part, {})[key] = found
        file.write_text(json.dumps(kept, indent=1, sort_keys=True) + "\n", encoding="utf-8")

    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        where = scratch if data is None else data
        where.mkdir(parents=True, exist_ok=True)
        if "rate" in parts:
            keep("rate", None, lambda: rate(count, rounds, where, scratch))
        if "growth" in parts:
            for size in sizes:
                keep("growth", str(size), lambda size=size: growth(size, workers, where, scratch))
    return written(out)


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.batch", description=__doc__)
    parser.add_argument("--only", choices=PARTS, action="append", help="this part (repeatable)")
    parser.add_argument("--sizes", type=int, nargs="+", default=SIZES, help="for growth")
    parser.add_argument("--count", type=int, default=RATE, help="dossiers, for the rate")
    parser.add_argument("--rounds", type=int, default=3, help="for the rate")
    parser.add_argument("--workers", type=int, default=2, help="for growth")
    parser.add_argument("--data", type=Path, help="where drawn dossiers are kept for the next time")
    parser.add_argument("--out", type=Path, default=RESULTS, help="folder for the results")
    words = sys.argv[1:] if arguments is None else list(arguments)
    given = parser.parse_args(words)
    file = run(
        given.only or PARTS,
        given.sizes,
        count=given.count,
        rounds=given.rounds,
        workers=given.workers,
        data=given.data,
        out=given.out,
        command=" ".join(["python -m benchmarks.batch", *_without_places(words)]),
    )
    print(file.read_text(encoding="utf-8"))


def _without_places(words: Sequence[str]) -> Iterator[str]:
    """The command without folders of this machine."""
    rest = iter(words)
    for word in rest:
        if word in ("--data", "--out"):
            next(rest, None)
        else:
            yield word


if __name__ == "__main__":
    main()
