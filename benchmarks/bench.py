"""How fast a bench sheet is computed: ``python -m benchmarks.bench``.

Writes results/bench.md.  Imports and the first look at the tables are apart from the rest.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

if not __package__:  # run by its path
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.harness import machine, page
from benchmarks.harness.timing import Case, Taken, interleaved

RESULTS = Path(__file__).resolve().parent / "results"
SHEET_MS = 100.0
RECORDING_S = 2.0


def run(rounds: int, seconds: float, out: Path) -> Path:
    """Measure, and write the page into ``out``; the page's path."""
    from endbell.bench.circuit_of import with_circuit
    from endbell.bench.compute import compute
    from endbell.bench.result_json import as_bytes
    from endbell.bench.sheet import parse_sheet
    from endbell.cli.bench import demo_sheets

    before = machine.load()
    cases: dict[str, Case] = {}
    for name, text in demo_sheets().items():

        def whole(_: object, text: str = text) -> bytes:
            sheet, circuit = with_circuit(parse_sheet(text, "amp.toml"))
            return as_bytes(compute(sheet, circuit))

        cases[name] = Case(whole)
    taken = interleaved(cases, rounds)
    heard = _recording(seconds, max(1, rounds // 5))
    worst = max(taken.values(), key=lambda t: t.ms)
    bars = [
        page.at_most("a whole sheet, the slowest", worst.ms, worst.cpu_ms, SHEET_MS, "ms"),
        page.at_most(
            f"a {seconds:g} s recording at 96 kHz, the slowest kind",
            max(t.ms for t in heard.values()) / 1000,
            max(t.cpu_ms for t in heard.values()) / 1000,
            RECORDING_S,
            "s",
        ),
    ]
    rows = [[name, page.figure(t.ms), page.figure(t.cpu_ms)] for name, t in taken.items()]
    sounds = [[name, page.figure(t.ms), page.figure(t.cpu_ms)] for name, t in heard.items()]
    lines = [
        "# Speed of the bench",
        "",
        f"Command: `python -m benchmarks.bench --rounds {rounds} --seconds {seconds:g}`.",
        f"{machine.versions()}.",
        f"{machine.processor()}. Load average (1, 5, 15 minutes) before: {before}; after: "
        f"{machine.load()}.",
        "",
        "Medians of sheets read from their text, computed with gates, limits and causes, and "
        "written as JSON, in turn. Before them, once: "
        f"{page.figure(_imports())} ms for a process that imports everything, reads its tables "
        "and computes its first sheet.",
        "",
        "## Bars",
        "",
        *page.bars(bars),
        "## Sheets",
        "",
        *page.table(("sheet", "ms on the wall", "ms of the processor"), rows),
        "## Recordings",
        "",
        *page.table(("kind", "ms on the wall", "ms of the processor"), sounds),
    ]
    out.mkdir(parents=True, exist_ok=True)
    file = out / "bench.md"
    file.write_text("\n".join(lines).rstrip() + "\n", encoding="utf-8")
    return file


def _recording(seconds: float, rounds: int) -> dict[str, Taken]:
    """Each kind of recording, read from a file and measured, nothing kept from before."""
    import soundfile

    from endbell.bench.audio import recorded

    rate = 96_000
    t = np.arange(int(seconds * rate)) / rate
    rng = np.random.default_rng(6)
    noise = 1e-5 * rng.standard_normal(t.size)
    tone = 0.4 * np.sin(2 * np.pi * 1000 * t) + 4e-4 * np.sin(2 * np.pi * 2000 * t)
    slow = tone * (1 + 0.5 * np.sin(2 * np.pi * 5 * t))
    kinds = {
        "sine": tone + noise,
        "sweep": _swept(t, seconds) + noise,
        "silence": noise * 10,
        "tremolo": slow + noise,
    }
    swept = {"hz_from": 20.0, "hz_to": 20_000.0, "seconds": 0.8 * seconds}
    cases: dict[str, Case] = {}
    with tempfile.TemporaryDirectory() as folder:
        for kind, samples in kinds.items():
            file = str(Path(folder) / f"{kind}.wav")
            soundfile.write(file, samples, rate, subtype="PCM_24")

            def measure(_: object, kind: str = kind, file: str = file) -> object:
                return recorded.measure_file(kind, file, swept if kind == "sweep" else {})

            cases[kind] = Case(measure)
        return interleaved(cases, rounds, least=1)


def _swept(t: np.ndarray, seconds: float) -> np.ndarray:
    """An exponential sweep from 20 Hz to 20 kHz over most of the recording, silent after it."""
    length, ratio = 0.8 * seconds, np.log(1000.0)
    phase = 2 * np.pi * 20.0 * length / ratio * (np.exp(t / length * ratio) - 1)
    return np.where(t < length, 0.4 * np.sin(phase), 0.0)


def _imports() -> float:
    """Milliseconds of a new process that computes one sheet, imports and tables with it."""
    script = (
        "from endbell.bench.circuit_of import with_circuit; from endbell.bench.compute import "
        "compute; from endbell.bench.sheet import parse_sheet; from endbell.cli.bench import "
        "demo_sheets; compute(*with_circuit(parse_sheet(next(iter(demo_sheets().values())), 'a')))"
    )
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", script], check=True)
    return 1000 * (time.perf_counter() - began)


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.bench", description=__doc__)
    parser.add_argument("--rounds", type=int, default=25)
    parser.add_argument("--seconds", type=float, default=60.0, help="length of the recordings")
    parser.add_argument("--out", type=Path, default=RESULTS, help="folder for the results")
    given = parser.parse_args(arguments)
    print(run(given.rounds, given.seconds, given.out).read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
