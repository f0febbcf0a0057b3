"""Fuzz every reader of marks and the dossier loader with atheris; keep the result as a table.

Run by ``make long``: ``python tests/fuzz/fuzz_readers_and_loader.py [--seconds 20] [--only NAME]``.
Each target runs in a process of its own, two at a time, for that long (the loader three times as
long). Writes benchmarks/results/fuzz.md and ends with status 1 if anything was found.
"""

from __future__ import annotations

import argparse
import platform
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "benchmarks" / "results" / "fuzz.md"
SLOWEST = 10  # seconds for one input; more is a finding


@dataclass(frozen=True)
class Run:
    """What came of one target. ``covered``: branches seen; ``found``: what went wrong, or ''."""

    name: str
    executions: int
    seconds: int
    covered: int
    found: str


def child(name: str, arguments: list[str]) -> None:
    """Fuzz one target in this process (never returns)."""
    from importlib import import_module
    from typing import Any

    atheris: Any = import_module("atheris")  # its types do not name what it makes at run time
    sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "fuzz")]
    with atheris.instrument_imports(include=["endbell.marks", "endbell.dossier"]):
        import targets
    target = targets.TARGETS[name]
    atheris.Setup([sys.argv[0], *arguments], lambda data: target(atheris.FuzzedDataProvider(data)))
    atheris.Fuzz()


def seeds(name: str, folder: Path) -> None:
    """Something to start from: the demonstration dossiers, cut to their first tables."""
    if name != "dossier of any text":
        return
    for path in (ROOT / "src" / "endbell" / "cli" / "demo_dossiers").glob("*.toml"):
        tables = path.read_text(encoding="utf-8").split("\n\n[")
        (folder / path.name).write_text("\n\n[".join(tables[:6]), encoding="utf-8")


def fuzz(name: str, seconds: int, seed: int) -> Run:
    """One target in a process of its own."""
    with tempfile.TemporaryDirectory() as made:
        corpus = Path(made) / "corpus"
        corpus.mkdir()
        seeds(name, corpus)
        command = [
            sys.executable, str(Path(__file__).resolve()), "--child", name,
            f"-max_total_time={seconds}", f"-seed={seed}", f"-timeout={SLOWEST}", "-rss_limit_mb=2048",
            "-max_len=2000", "-len_control=0", f"-artifact_prefix={made}/", "-print_final_stats=1", str(corpus),
        ]  # fmt: skip
        done = subprocess.run(command, capture_output=True, text=True, errors="replace")
        said = done.stdout + done.stderr
        kept = [p for p in Path(made).iterdir() if p.is_file()]
        found = ""
        if done.returncode or kept:
            inputs = " ".join(f"{p.name.split('-')[0]} on {p.read_bytes()[:80]!r}" for p in kept)
            found = f"{last_error(said)} ({inputs})"
    executions = re.findall(r"number_of_executed_units: (\d+)", said) or re.findall(
        r"#(\d+)\s", said
    )
    covered = re.findall(r"cov: (\d+)", said)
    return Run(name, int((executions or ["0"])[-1]), seconds, int((covered or ["0"])[-1]), found)


def last_error(said: str) -> str:
    """The line of a log that says best what happened."""
    lines = [x.strip() for x in said.splitlines()]
    errors = [
        x for x in lines if re.match(r"(\w+\.)*\w*(Error|Exception|Exit)\b", x) or "ERROR: " in x
    ]
    return errors[0][:160] if errors else (lines[-1][:160] if lines else "no output")


def table(runs: list[Run], command: str) -> str:
    """The result as a page."""
    rows = [
        f"| {r.name} | {r.seconds} | {r.executions:,} | {r.covered:,} | {r.found or 'none'} |"
        for r in runs
    ]
    return "\n".join(
        [
            "# Fuzzing the readers and the loader",
            "",
            f"Command: `{command}` (part of `make long`). atheris {version('atheris')}, Python "
            f"{platform.python_version()}, {platform.system()} {platform.machine()}, two targets at a time.",
            "",
            "Each reader is given texts, legibilities, results and values at random; whatever comes back has",
            "weights that add up to one, spans inside the text, and a misfit that says what was found and what",
            "would be accepted. The loader reads or refuses in one sentence. Anything else, an exception, or an",
            f"input that takes more than {SLOWEST} s is a finding. 'Branches' counts those of endbell.marks and",
            "endbell.dossier that were reached.",
            "",
            "| target | seconds | executions | branches | findings |",
            "| --- | ---: | ---: | ---: | --- |",
            *rows,
            f"| all | {sum(r.seconds for r in runs)} | {sum(r.executions for r in runs):,} | | "
            f"{sum(bool(r.found) for r in runs)} |",
            "",
        ]
    )


def main() -> int:
    if sys.argv[1:2] == ["--child"]:
        child(sys.argv[2], sys.argv[3:])
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--seconds", type=int, default=20, help="for each reader; the loader three times as long"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="one target, printed and not kept")
    asked = parser.parse_args()
    sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "fuzz")]
    from targets import TARGETS

    names = [asked.only] if asked.only else list(TARGETS)

    def run(name: str) -> Run:
        found = fuzz(name, asked.seconds * (3 if name.startswith("dossier") else 1), asked.seed)
        print(
            f"{found.name}: {found.executions:,} executions, {found.found or 'nothing found'}",
            flush=True,
        )
        return found

    with ThreadPoolExecutor(2) as pool:
        runs = list(pool.map(run, names))
    if not asked.only:
        OUT.parent.mkdir(parents=True, exist_ok=True)
        command = (
            f"python tests/fuzz/{Path(__file__).name} --seconds {asked.seconds} --seed {asked.seed}"
        )
        OUT.write_text(table(runs, command), encoding="utf-8")
    return int(any(r.found for r in runs))


if __name__ == "__main__":
    raise SystemExit(main())
