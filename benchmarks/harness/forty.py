"""The forty-mark amp, weighed side by side with a naive grid and with pgmpy."""

from __future__ import annotations

import re
import sys
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks import dossiers, naive, pgmpy_peer
from benchmarks.harness.page import Bar, at_least, at_most, figure, table
from benchmarks.harness.timing import Case, Taken, interleaved
from endbell.chronology import weigh
from endbell.chronology.weighing import posterior
from endbell.chronology.workspace import Workspace
from endbell.dossier import Dossier
from endbell.reference import Reference

LOOKS = (0, 1, 2)
QUICK = (
    "posterior, cold",
    "posterior, one mark more",
    "posterior, warm",
    "naive grid, cold",
    "naive grid, tables ready",
)


@dataclass(frozen=True)
class Effort:
    """How often, on how much. ``rows`` None: all forty marks."""

    quick_rounds: int = 25
    slow_rounds: int = 7
    seconds: float = 120.0
    rows: int | None = None
    as_of: date = dossiers.AS_OF


SMALLEST = Effort(1, 1, 0.0, rows=3, as_of=date(1966, 1, 3))


@dataclass(frozen=True)
class Amp:
    """One of the two dossiers, with all that was measured on it."""

    title: str
    dossier: Dossier
    weeks: int
    taken: Mapping[str, Taken]
    differs: str
    no_peer: str | None


def measure(effort: Effort) -> list[Amp]:
    """Both dossiers: with the maker's pack and its features, and without."""
    return [_amp(maker, effort) for maker in (True, False)]


def _amp(maker: bool, effort: Effort) -> Amp:
    packs = (dossiers.MAKER,) if maker else ()
    reference = dossiers.reference_with(packs)
    rows = dossiers.forty_rows(maker)
    if effort.rows is not None:
        rows = [*rows[: effort.rows], *rows[-effort.rows :]]
    text = dossiers.text_of(rows, as_of=effort.as_of, packs=packs, claim=True)
    dossier = dossiers.parsed(text, reference)
    simple = naive.simple_model(dossier, reference)
    no_peer = pgmpy_peer.why_not()
    warm_up = effort.quick_rounds > 1
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # pgmpy's own use of things that will change
        taken = interleaved(
            _quick(dossier, reference, simple),
            effort.quick_rounds,
            seconds=effort.seconds,
            warm_up=warm_up,
        )
        peer = {} if no_peer else _peer(simple)
        taken |= interleaved(
            _slow(dossier, reference, simple) | peer,
            effort.slow_rounds,
            seconds=effort.seconds,
            warm_up=warm_up,
        )
    exact, rough = posterior(dossier, reference).joint.by_week, naive.posterior(simple)
    differs = f"{0.5 * np.abs(exact - rough).sum():.2f}"
    title = "with the maker's pack" if maker else "without a maker's pack"
    return Amp(title, dossier, exact.size, taken, differs, no_peer)


def _quick(dossier: Dossier, reference: Reference, simple: naive.Simple) -> dict[str, Case]:
    fewer = dossiers.one_mark_fewer(dossier)
    kept = Workspace()

    def sum_up(ws: Workspace) -> object:
        return posterior(dossier, reference, workspace=ws).joint.by_week

    def less_one() -> Workspace:
        ws = Workspace()
        _ = posterior(fewer, reference, workspace=ws).joint.by_week
        return ws

    sum_up(kept)
    return {
        "posterior, cold": Case(sum_up, forgotten),
        "posterior, one mark more": Case(sum_up, less_one),
        "posterior, warm": Case(sum_up, lambda: kept),
        "naive grid, cold": Case(lambda _: naive.posterior(naive.simple_model(dossier, reference))),
        "naive grid, tables ready": Case(lambda _: naive.posterior(simple)),
    }


def _slow(dossier: Dossier, reference: Reference, simple: naive.Simple) -> dict[str, Case]:
    cases: dict[str, Case] = {}
    for looks in LOOKS:
        kept = Workspace()

        def run(ws: Workspace, looks: int = looks) -> object:
            return weigh(dossier, reference, looks=looks, workspace=ws)

        run(kept)
        cases[f"verdict, looks={looks}, cold"] = Case(run, forgotten)
        cases[f"verdict, looks={looks}, warm"] = Case(run, lambda kept=kept: kept)
    same = Workspace()
    same_questions(dossier, reference, same)
    cases["the same questions, cold"] = Case(
        lambda ws: same_questions(dossier, reference, ws), forgotten
    )
    cases["the same questions, warm"] = Case(lambda _: same_questions(dossier, reference, same))
    cases["naive grid, the same questions, cold"] = Case(
        lambda _: naive.everything(naive.simple_model(dossier, reference))
    )
    return cases


def _peer(simple: naive.Simple) -> dict[str, Case]:
    ready = pgmpy_peer.network(simple)
    return {
        "pgmpy, network and queries": Case(
            lambda _: pgmpy_peer.everything(pgmpy_peer.network(simple))
        ),
        "pgmpy, queries alone": Case(lambda _: pgmpy_peer.everything(ready)),
    }


def same_questions(dossier: Dossier, reference: Reference, ws: Workspace) -> object:
    """What pgmpy is asked, by the engine: p(B), all origins, p(B) without each mark."""
    from endbell.chronology.influence import without_mark
    from endbell.chronology.origins import part_verdicts

    post = posterior(dossier, reference, workspace=ws)
    parts = part_verdicts(post.joint, dossier.parts)
    weighed = [mark.n for e in post.evidence for mark, _ in e.read]
    return parts, [without_mark(post.joint, post.evidence, n) for n in weighed]


def forgotten() -> Workspace:
    """A fresh workspace; what the readers remember from text to text is emptied too."""
    for name, module in list(sys.modules.items()):
        if name.startswith("endbell."):
            for value in vars(module).values():
                empty: Any = getattr(value, "cache_clear", None)
                if empty is not None:
                    empty()
    return Workspace()


# ---- said


def bars(amps: list[Amp]) -> list[Bar]:
    out: list[Bar] = []
    for amp in amps:
        t, title = amp.taken, amp.title
        asked = [("posterior, warm", 10), ("posterior, cold", 60)]
        for looks, limit in ((1, 150), (2, 500)):
            asked += [(f"verdict, looks={looks}, {how}", limit) for how in ("cold", "warm")]
        for what, limit in asked:
            took = t[what]
            out.append(at_most(f"{what}, {title}", took.ms, took.cpu_ms, limit, "ms"))
        if amp.no_peer is None:
            pairs = (("cold", "pgmpy, network and queries"), ("warm", "pgmpy, queries alone"))
            for how, peer in pairs:
                mine = t[f"the same questions, {how}"]
                ratios = (t[peer].ms / mine.ms, t[peer].cpu_ms / mine.cpu_ms)
                what = f"{peer}, over the engine's time for the same questions, {how}, {title}"
                out.append(at_least(what, *ratios, 20, "times"))
    return out


def section(amps: list[Amp]) -> list[str]:
    out = ["## The amp with forty marks", ""]
    out += [
        "Twenty-seven of the marks are codes with one year digit; four parts were swapped "
        f"({', '.join(dossiers.SWAPPED)}). *Cold*: a fresh workspace, and nothing remembered of "
        "any text; the packs are loaded, the modules imported. *Warm*: the same dossier again in "
        "the same workspace. *One mark more*: a workspace that held the dossier before its last "
        "mark was typed. A verdict holds the posterior, origins, leave-one-outs, fit of every "
        "mark, deliveries, conflicts, stability under halved and doubled assumptions, and the "
        "next checks (`looks` steps ahead).",
        "",
        "*Naive grid*: benchmarks/naive.py, the same weeks, every part by itself (no deliveries, "
        "no stock age, no married assemblies, no groups of features), plain loops over readings. "
        "*The same questions*: the posterior, the origins of all parts, the posterior without each "
        "mark. *pgmpy*: benchmarks/pgmpy_peer.py, the naive grid's model and its tables, on the "
        "same weekly grid, by variable elimination in pgmpy's own order (greedy), one query a "
        "question; its answers equal the naive grid's. It keeps nothing "
        "from one round to the next, while the engine's warm figures read back what the workspace "
        "kept: cold against network and queries is the even comparison.",
        "",
    ]
    for amp in amps:
        out += _of_one(amp)
    return out


def _of_one(amp: Amp) -> list[str]:
    t = amp.taken
    out = [
        f"### {amp.title[0].upper()}{amp.title[1:]}",
        "",
        f"{len(amp.dossier.marks)} marks on {len(amp.dossier.parts)} parts, {amp.weeks:,} weeks. "
        f"Total variation between the engine's p(B) and the naive grid's: {amp.differs}.",
        "",
    ]
    cold, ready = t["naive grid, cold"].ms, t["naive grid, tables ready"].ms
    rows = [
        [*_times(name, t[name]), figure(t[name].ms / cold), figure(t[name].ms / ready)]
        for name in t
        if name in QUICK
    ]
    head = ("", "median ms", "least ms", "processor, median ms", "rounds")
    out += table((*head, "x naive, cold", "x naive, tables ready"), rows)
    peer, queries = t.get("pgmpy, network and queries"), t.get("pgmpy, queries alone")
    all_naive = t["naive grid, the same questions, cold"].ms
    rows = []
    for name in t:
        if name not in QUICK:
            ratios = [figure(t[name].ms / all_naive)]
            for other in (peer, queries):
                ratios.append("" if other is None else figure(other.ms / t[name].ms))
            rows.append([*_times(name, t[name]), *ratios])
    out += table(
        (
            *head,
            "x naive, same questions",
            "pgmpy (network and queries) / this",
            "pgmpy (queries alone) / this",
        ),
        rows,
    )
    if amp.no_peer:
        out += [f"Not compared with pgmpy: {amp.no_peer}.", ""]
    return out


def _times(name: str, taken: Taken) -> list[str]:
    figures = (taken.ms, taken.least_ms, taken.cpu_ms)
    return [name, *map(figure, figures), str(taken.rounds)]


def sampler(stored: Path) -> list[str]:
    """What benchmarks/nuts_reference.py once found: another run, on other amps."""
    out = ["## A sampler", ""]
    if not stored.exists():
        return [*out, "No figures of NumPyro are stored here (benchmarks/nuts_reference.py).", ""]
    lines = [x for x in stored.read_text(encoding="utf-8").splitlines() if x.startswith("|")]
    cells = [[c.strip() for c in re.split(r"(?<!\\)\|", x)[1:-1]] for x in lines]
    head, rows = cells[0], cells[2:]
    nuts = next((i for i, c in enumerate(head) if c.startswith("NUTS")), None)
    mine = next((i for i, c in enumerate(head) if c.startswith("engine")), None)
    if nuts is None or mine is None:
        return [*out, f"{stored.name} holds no seconds to compare.", ""]
    said = [[r[0], r[nuts], r[mine], figure(float(r[nuts]) / float(r[mine]))] for r in rows]
    return [
        *out,
        "NUTS (NumPyro) with everything but B summed inside, as stored in "
        f"[{stored.name}]({stored.name}) by benchmarks/nuts_reference.py: a run of its own on "
        "smaller amps, so the ratio holds within that run only.",
        "",
        *table(("amp", "NUTS, s", "engine, whole verdict, s", "NUTS / engine"), said),
    ]
