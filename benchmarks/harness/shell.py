"""What a command costs from a cold shell, beside an interpreter that does nothing."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import endbell
from benchmarks.harness.page import Bar, at_most, figure, table
from benchmarks.harness.timing import Case, Taken, interleaved

NOTHING = "python -c pass"
READ = "endbell read 993-348"
WEIGH = "endbell weigh demo-a.toml"
LIMITS = {READ: 20.0, WEIGH: 40.0}
HEAVIEST = 10


@dataclass(frozen=True)
class Import:
    """A module and all that it alone brought along: microseconds."""

    module: str
    cumulative: int
    own: int


@dataclass(frozen=True)
class Shell:
    taken: Mapping[str, Taken]
    heavy: Mapping[str, tuple[int, Sequence[Import], Sequence[Import]]]


def measure(rounds: int = 15) -> Shell:
    """Each command in turn, ``rounds`` times; then where its imports go."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        demo = resources.files("endbell.cli") / "demo_dossiers"
        first = min((f for f in demo.iterdir() if f.name.startswith("a-")), key=lambda f: f.name)
        (folder / "demo-a.toml").write_text(first.read_text(encoding="utf-8"), encoding="utf-8")
        cases = {
            said: Case(lambda _, said=said: _run(_words(said), folder))
            for said in (NOTHING, READ, WEIGH)
        }
        taken = interleaved(cases, rounds, clock=_clock)
        heavy = {said: _imports(said, folder, min(3, rounds)) for said in (READ, WEIGH)}
    return Shell(taken, heavy)


def _words(said: str) -> list[str]:
    command, *rest = said.split()
    return [sys.executable, *(("-m", "endbell") if command == "endbell" else ()), *rest]


def _run(words: Sequence[str], folder: Path) -> str:
    source = str(Path(endbell.__file__).parents[1])
    drop = ("PYTHONDONTWRITEBYTECODE", "PYTHONPROFILEIMPORTTIME", "COVERAGE_PROCESS_START")
    env = {k: v for k, v in os.environ.items() if k not in drop} | {"PYTHONPATH": source}
    done = subprocess.run(words, cwd=folder, env=env, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"{' '.join(words)}: status {done.returncode}: {done.stderr}")
    return done.stderr


def _clock() -> tuple[float, float]:
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.perf_counter(), children.ru_utime + children.ru_stime


def _imports(said: str, folder: Path, times: int) -> tuple[int, list[Import], list[Import]]:
    """All imports together, the heaviest outside modules with what they alone bring, by own time.

    The quietest of three runs. Modules that stand under one already listed are not listed again.
    """
    python, *rest = _words(said)
    runs = [importtime(_run([python, "-X", "importtime", *rest], folder)) for _ in range(times)]
    best = min(runs, key=lambda run: run[0])
    return best


def importtime(said: str) -> tuple[int, list[Import], list[Import]]:
    """What ``-X importtime`` printed: total, heaviest from outside, heaviest by their own time.

    >>> total, outside, own = importtime('''import time: self [us] | cumulative | imported package
    ... import time:       200 |        200 |     numpy.core
    ... import time:       100 |        300 |   numpy
    ... import time:        50 |        350 | endbell.chronology
    ... ''')
    >>> total, outside[0].module, outside[0].cumulative, own[0].module
    (350, 'numpy', 300, 'numpy.core')
    """
    found: list[tuple[int, Import]] = []
    for line in said.splitlines():
        if not line.startswith("import time:") or "cumulative" in line:
            continue
        own, cumulative, name = line.removeprefix("import time:").split("|")
        depth = (len(name) - len(name.lstrip()) - 1) // 2
        found.append((depth, Import(name.strip(), int(cumulative), int(own))))
    total = sum(i.own for _, i in found)
    outside: list[Import] = []
    under: int | None = None  # depth of the outside module we are in
    for depth, module in reversed(found):  # a module stands after what it imported
        if under is not None and depth > under:
            continue
        ours = module.module.partition(".")[0] == "endbell" or module.module == "runpy"
        under = None if ours else depth
        if not ours:
            outside.append(module)
    outside.sort(key=lambda i: -i.cumulative)
    own = sorted((i for _, i in found), key=lambda i: -i.own)
    return total, outside[:HEAVIEST], own[:HEAVIEST]


# ---- said


def bars(shell: Shell) -> list[Bar]:
    nothing = shell.taken[NOTHING]
    out: list[Bar] = []
    for said, limit in LIMITS.items():
        took = shell.taken[said]
        ratios = (took.ms / nothing.ms, took.cpu_ms / nothing.cpu_ms)
        out.append(at_most(f"`{said}`", *ratios, limit, f"x `{NOTHING}`"))
    return out


def section(shell: Shell) -> list[str]:
    nothing = shell.taken[NOTHING]
    rows = [
        [f"`{said}`", figure(t.ms), figure(t.least_ms), figure(t.cpu_ms), str(t.rounds),
         figure(t.ms / nothing.ms), figure(t.cpu_ms / nothing.cpu_ms)]
        for said, t in shell.taken.items()
    ]  # fmt: skip
    out = [
        "## From a cold shell",
        "",
        "A process each, started in turn; `endbell` as `python -m endbell`, compiled files in "
        "place. demo-a.toml is the first demonstration dossier.",
        "",
        *table(
            ("", "median ms", "least ms", "processor, median ms", "rounds", "x nothing",
             "processor, x nothing"),
            rows,
        ),
    ]  # fmt: skip
    for said, (total, outside, own) in shell.heavy.items():
        out += [
            f"Imports of `{said}` (`-X importtime`, the quietest of three runs; it slows imports "
            f"itself): {figure(total / 1000)} ms together. Heaviest from outside the package, each "
            "with what it alone brings along, and heaviest by their own time:",
            "",
        ]
        pairs = zip(outside, own, strict=False)
        out += table(
            ("from outside", "ms", "by own time", "ms"),
            [
                [
                    f"`{a.module}`",
                    figure(a.cumulative / 1000),
                    f"`{b.module}`",
                    figure(b.own / 1000),
                ]
                for a, b in pairs
            ],
        )
    return out
