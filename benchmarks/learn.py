"""How often the intervals of `endbell learn` hold, what learning is worth, and how long it takes.

    PYTHONPATH=src python -m benchmarks.learn --repeats 200 --dossiers 500 --many 100000

Three measurements, each repeat kept in --work and not done again:

- *prior*: values drawn from the learning priors, dossiers drawn under them by the simulator,
  learned from; how many of the 90% intervals hold the value that was drawn.
- *unlike*: values fixed a prior's width away from the pack's, every other one up; how often
  dossiers that were not learned from are better foretold with the learned values than with the
  pack's: by the log evidence of their marks, and by the log probability of the true build week.
- *many*: the time of the command on a folder of drawn dossiers.

The simulator draws first what is looked at, then an amp until it fits: a letter code, which no part
of the fifties can bear, then makes replacements likelier than their rate. Such designs are skipped
(see ``independent``): of a shop's own dossiers the amp came first.
"""

from __future__ import annotations

import argparse
import json
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import count
from pathlib import Path
from typing import Any

import numpy as np

from endbell.batch.pool import cores, run_chunks
from endbell.chronology import assumptions_in_force
from endbell.dossier import Dossier, parse_dossier
from endbell.learning.records.fit import climb, evaluable
from endbell.learning.records.intervals import Learned, learned
from endbell.learning.records.passing import Pass, Record
from endbell.learning.records.subjects import subjects_of
from endbell.learning.simulation import Simulator, Truth
from endbell.reference import load_reference

PACKS = ("brackwater",)
AS_OF = date(2026, 3, 2)
KINDS = ("source-date-code", "date-code", "feature", "chart-letters", "year-stamp", "hand-date")
HERE = Path(__file__).resolve().parent
FAMILIES = {
    "lag medians": ("lag.", "median_weeks"),
    "lag spreads": ("lag.", ".sigma"),
    "old-stock weights": ("lag.", "old_stock_weight"),
    "old-stock means": ("lag.", "old_stock_mean_weeks"),
    "replacement rates": ("replaced.", "probability"),
    "period share": ("replaced.", "period_share"),
    "marriage rates": ("married.", ""),
    "changes of suppliers": ("supply.", "-01"),
    "shares of suppliers": ("supply.", "#"),
    "changes of features": ("feature.", ""),
    "worn digits": ("digits.", ""),
}


@dataclass(frozen=True, slots=True)
class Task:
    kind: str
    seed: int
    dossiers: int
    held_out: int


def independent(dossier: Dossier) -> bool:
    """Whether an amp of any origin and date can bear what was looked at here."""
    return not dossier.repairs and all(
        m.kind in KINDS
        and m.result in ("seen", "absent")
        and not (m.kind == "date-code" and any(c.isalpha() for c in m.text))
        for m in dossier.marks
    )


class Bench:
    """One repeat in a worker."""

    def __init__(self) -> None:
        self.reference, _ = load_reference(PACKS)
        self.assume = assumptions_in_force(self.reference, {})
        self.subjects = subjects_of(self.reference, self.assume, AS_OF)

    def __call__(self, task: Task) -> dict[str, Any]:
        began = time.process_time()
        truth = self._truth(task)
        records, _ = self._drawn(truth, task.seed, task.dossiers)
        space = self.subjects.space
        found = climb(space, lambda theta: Pass(self.subjects, theta).sums(records))
        out: dict[str, Any] = {"rounds": found.rounds, "records": len(records)}
        if task.kind == "prior":
            out["values"] = self._covered(learned(space, found), truth)
        else:
            held, truths = self._drawn(truth, task.seed + 10**6, task.held_out)
            at = evaluable(space, found.theta)
            out["score"] = [
                self._scores(theta, held, truths) for theta in (at, np.zeros(space.size), truth)
            ]
        return out | {"seconds": time.process_time() - began}

    def _truth(self, task: Task) -> np.ndarray:
        space = self.subjects.space
        if task.kind == "prior":
            return evaluable(space, space.draw(np.random.default_rng(task.seed)))
        n = len(space.scalars)
        out = np.zeros(space.size)
        out[:n] = [s.width * (-1) ** i for i, s in enumerate(space.scalars)]
        out[n:] = [0.3 * (-1) ** i for i in range(space.size - n)]
        return evaluable(space, out)

    def _drawn(self, truth: np.ndarray, seed: int, n: int) -> tuple[list[Record], list[Truth]]:
        reference, assume = self.subjects.applied(truth)
        simulator = Simulator(reference, assume, packs=PACKS, as_of=AS_OF)
        records, truths = list[Record](), list[Truth]()
        for i in count():
            drawn = simulator.draw(seed, i)
            found = parse_dossier(drawn.text, lambda _: self.reference, today=AS_OF)
            if independent(found):
                records.append(Record(found))
                truths.append(drawn.truth)
                if len(records) == n:
                    break
        return records, truths

    def _covered(self, values: Sequence[Learned], truth: np.ndarray) -> list[list[Any]]:
        space = self.subjects.space
        true = [s.value(x) for s, x in zip(space.scalars, truth, strict=False)]
        for s, part in zip(space.simplices, space.slices(), strict=True):
            true += s.shares(truth[part]).tolist()
        return [
            [v.name, bool(v.low <= t <= v.high), bool(t < v.low), round(v.records, 1)]
            for v, t in zip(values, true, strict=True)
        ]

    def _scores(
        self, theta: np.ndarray, records: Sequence[Record], truths: Sequence[Truth]
    ) -> list[float]:
        one = Pass(self.subjects, theta)
        marks, week = 0.0, 0.0
        for record, truth in zip(records, truths, strict=True):
            joint = one.posterior(record.dossier).joint
            marks += joint.log_evidence
            week += float(np.log(max(joint.by_week[truth.week], 1e-12)))
        return [marks, week]


def repeats(kind: str, n: int, args: argparse.Namespace) -> list[dict[str, Any]]:
    """All repeats of a kind, those kept from before among them."""
    file = args.work / f"{kind}-{args.dossiers}-{args.held_out}.jsonl"
    file.parent.mkdir(parents=True, exist_ok=True)
    lines = file.read_text("utf-8").splitlines() if file.exists() else []
    kept = {d["seed"]: d for d in map(json.loads, lines)}
    seeds = range(args.seed, args.seed + n)
    left = [seed for seed in seeds if seed not in kept]
    tasks = ((seed, Task(kind, seed, args.dossiers, args.held_out)) for seed in left)
    with file.open("a", encoding="utf-8") as out:
        for seed, found in run_chunks(Bench, tasks, args.workers):
            kept[seed] = {"seed": seed} | found
            out.write(json.dumps(kept[seed]) + "\n")
            out.flush()
            print(f"{kind} {len(kept)} of {n}: {found['seconds']:.0f} s", file=sys.stderr)
    return [kept[seed] for seed in seeds]


def family(name: str) -> str:
    for words, (start, end) in FAMILIES.items():
        if not name.startswith(start):
            continue
        shares = ".shares." in name
        if end == "#" or (start == "supply." and shares):
            if shares and end == "#":
                return words
            continue
        if start == "supply." or name.endswith(end):
            return words
    return "other"


def coverage_table(found: Sequence[dict[str, Any]]) -> list[str]:
    by: dict[str, list[list[Any]]] = {}
    for repeat in found:
        for row in repeat["values"]:
            by.setdefault(family(row[0]), []).append(row)
    lines = [
        "| values | intervals | hold | with a record behind them | hold | truth below | above |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    every = [row for rows in by.values() for row in rows]
    most = [row for words, rows in by.items() for row in rows if words != "worn digits"]
    for words, rows in [*by.items(), ("all but digits", most), ("all", every)]:
        spoken = [r for r in rows if r[3] >= 1.0]
        share = sum(r[1] for r in rows) / len(rows)
        said = sum(r[1] for r in spoken) / max(len(spoken), 1)
        below = sum(r[2] for r in spoken) / max(len(spoken), 1)
        lines.append(
            f"| {words} | {len(rows):,} | {share:.1%} | {len(spoken):,} | {said:.1%} | "
            f"{below:.1%} | {1 - said - below:.1%} |"
        )
    return lines


def unlike_lines(found: Sequence[dict[str, Any]], held_out: int) -> list[str]:
    lines = [
        "| log score of further dossiers | better than the pack's | learned | truth known |",
        "| --- | ---: | ---: | ---: |",
    ]
    for k, words in enumerate(("their marks (log evidence)", "the true build week")):
        gains = [(r["score"][0][k] - r["score"][1][k]) / held_out for r in found]
        ideal = [(r["score"][2][k] - r["score"][1][k]) / held_out for r in found]
        better = sum(g > 0 for g in gains) / len(gains)
        lines.append(
            f"| {words} | {better:.1%} of {len(gains)} | {np.mean(gains):+.3f} nats a dossier | "
            f"{np.mean(ideal):+.3f} |"
        )
    return lines


def many_lines(n: int, workers: int) -> list[str]:
    """The time of the whole command on n drawn dossiers."""
    bench = Bench()
    simulator = Simulator(bench.reference, bench.assume, packs=PACKS, as_of=AS_OF)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "finished"
        folder.mkdir()
        for i in range(n):
            under = folder / f"{i // 1000:04d}"
            under.mkdir(exist_ok=True)
            (under / f"{i:07d}.toml").write_text(simulator.draw(7, i).text, "utf-8")
        command = [sys.executable, "-m", "endbell", "learn", str(folder), "--json"]
        command += ["--out", str(Path(place) / "learned"), "--workers", str(workers)]
        began = time.perf_counter()
        done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
        took = time.perf_counter() - began
    said = json.loads(done.stdout)
    return [
        f"{said['dossiers']:,} dossiers ({said['patterns']:,} different) on {workers} processes: "
        f"{took:,.0f} s, {said['dossiers'] / took:,.0f} a second; {said['passes']} passes, of "
        "which the last over all of them."
    ]


def main() -> None:
    form = argparse.RawTextHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=form)
    parser.add_argument("--repeats", type=int, default=10)
    parser.add_argument("--dossiers", type=int, default=200)
    parser.add_argument("--held-out", type=int, default=100)
    parser.add_argument("--unlike", type=int, help="repeats of that measurement [as --repeats]")
    parser.add_argument("--many", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=cores())
    parser.add_argument("--work", type=Path, default=Path("learn-work"))
    parser.add_argument("--out", type=Path, default=HERE / "results" / "learn.md")
    args = parser.parse_args()
    unlike = args.repeats if args.unlike is None else args.unlike
    lines = [
        "# Learning from records: do the intervals hold, and is it worth it?",
        "",
        f"Command: `PYTHONPATH=src python -m benchmarks.learn {' '.join(sys.argv[1:])}`. "
        f"Pack brackwater, dossiers of the simulator as of {AS_OF}. "
        f"Python {platform.python_version()}, numpy {np.__version__}, {platform.system()} "
        f"{platform.machine()}.",
        "",
        "Only designs that any amp can fit are drawn (about one in twenty): where some amps can "
        "not fit what is looked at, the simulator redraws the amp, and replaced parts become "
        "commoner than their rate. Of a shop's own dossiers the amp came first.",
        "",
    ]
    if args.repeats:
        found = repeats("prior", args.repeats, args)
        lines += [
            "## Values drawn from the learning priors: "
            f"{args.repeats} times {args.dossiers} dossiers",
            "",
            "Bar: 87 to 93% of the 90% intervals hold the value that was drawn, over all classes.",
            "",
            *coverage_table(found),
            "",
            f"Rounds to the mode: {np.mean([r['rounds'] for r in found]):.1f} on the average.",
            "",
        ]
    if unlike:
        found = repeats("unlike", unlike, args)
        lines += [
            f"## Values a prior's width from the pack's: {unlike} times {args.dossiers} dossiers",
            "",
            f"{args.held_out} further dossiers are foretold. Bar: better in 90% of the repeats.",
            "",
            *unlike_lines(found, args.held_out),
            "",
        ]
    if args.many:
        lines += ["## Many dossiers", "", "Bar: 100,000 in less than 600 s on two cores.", ""]
        lines += [*many_lines(args.many, args.workers), ""]
    args.out.write_text("\n".join(lines), "utf-8")
    print("\n".join(lines))


if __name__ == "__main__":
    main()
