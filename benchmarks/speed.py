"""How fast, beside what: ``python -m benchmarks.speed`` (``make speed``).

Writes results/speed.md and its charts.  What is compared is measured in one run, in turn.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

if not __package__:  # run by its path
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.harness import charts, forty, machine, page, scaling, shell

RESULTS = Path(__file__).resolve().parent / "results"
PARTS = ("forty", "shell", "growth")


def run(parts: Sequence[str], smallest: bool, out: Path) -> Path:
    """Measure, and write the page and the charts into ``out``; the page's path."""
    before, versions = machine.load(), machine.versions()
    bars: list[page.Bar] = []
    body: list[str] = []
    if "forty" in parts:
        amps = forty.measure(forty.SMALLEST if smallest else forty.Effort())
        bars += forty.bars(amps)
        body += [*forty.section(amps), *forty.sampler(RESULTS / "nuts.md")]
    if "shell" in parts:
        found = shell.measure(1 if smallest else 15)
        bars += shell.bars(found)
        body += shell.section(found)
    out.mkdir(parents=True, exist_ok=True)
    if "growth" in parts:
        series = scaling.measure(scaling.SMALLEST if smallest else scaling.Sizes())
        body += scaling.section(series, charts.draw(series, out), charts.why_none())
    command = " ".join(
        [
            "python -m benchmarks.speed",
            *(f"--only {p}" for p in parts if len(parts) < len(PARTS)),
            *(["--smallest"] if smallest else []),
        ]
    )
    head = [
        "# Speed",
        "",
        f"Command: `{command}`.",
        f"{versions}.",
        f"{machine.processor()}. Load average (1, 5, 15 minutes) before: {before}; after: "
        f"{machine.load()}.",
        "",
        "What is compared is measured in one process and one run, in turn (A B C, A B C, ...); "
        "figures are medians. Times are of one machine: the ratios are what can be carried "
        "elsewhere. Bars are judged by the clock on the wall; where the machine had other work to "
        "do (see the load), the processor's time is the steadier figure.",
        "",
        "## Bars",
        "",
        *page.bars(bars),
    ]
    file = out / "speed.md"
    file.write_text("\n".join([*head, *body]).rstrip() + "\n", encoding="utf-8")
    return file


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.speed", description=__doc__)
    parser.add_argument("--only", choices=PARTS, action="append", help="this part (repeatable)")
    parser.add_argument("--smallest", action="store_true", help="the least of everything, once")
    parser.add_argument("--out", type=Path, default=RESULTS, help="folder for the results")
    given = parser.parse_args(arguments)
    file = run(given.only or PARTS, given.smallest, given.out)
    print(file.read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
