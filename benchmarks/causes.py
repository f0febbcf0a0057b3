"""How good the causes of the bench are: found, how soon, and as sure as they say.

    PYTHONPATH=src python -m benchmarks.causes --n 1000 --seed 1 --out docs

Amps with no fault, one or two are drawn by ``causes_simulator`` until ``--n`` of them have one at
least, in the world of the tables and in worlds that are not.  Each is measured as the bench tells:
what must come before power first and in order, then whatever tells most a minute, until no
fault is left in doubt (docs/bench_checklist.md).  The page docs/causes.md is made anew
between its two marks; everything else in it is written by hand.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import mean, median

import numpy as np

from endbell.bench.causes.looking import Look, next_looks
from endbell.bench.causes.network import Network
from endbell.bench.causes.posterior import Belief, Seen, likeliest, posterior, start
from endbell.bench.causes.tables import symptoms
from endbell.bench.kinds import line_kinds
from endbell.bench.stages import Stage

from .causes_amps import Amp, amps
from .causes_simulator import Case, Twist, World

SURE, OUT = 0.9, 0.04
BEFORE_POWER = """
cord-kind line-capacitor filter-volts-left fuse-fitted earth-bond insulation leakage-normal
leakage-reversed limited-mains-volts limited-current limited-rail@supply
""".split()  # noqa: SIM905 - as it is read
BEFORE_SIGNAL = "cathode-volts@output"
WORLDS: Mapping[str, Twist] = {
    "as the tables say": Twist(),
    "strengths ± 0.5 log odds": Twist(strength=0.5),
    "everything off": Twist(strength=0.8, prior=1.6, leak=2.0, error=2.0),
    "slips come together": Twist(together=0.5),
}
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"


@dataclass(frozen=True)
class Outcome:
    """What came of one amp, when the measuring stopped.

    ``stated``: probability of each fault, with whether it was there; ``named``: faults of 90 % and
    more; ``in_three``: steps until every fault is in the first three and stays there.
    """

    faults: frozenset[str]
    ranked: tuple[str, ...]
    ranked_at_end: tuple[str, ...]
    stated: tuple[tuple[float, bool], ...]
    named: tuple[str, ...]
    set_p: float
    set_right: bool
    isolated: bool
    steps: int
    minutes: float
    all_steps: int
    all_minutes: float
    by_list: int
    first_rule: int
    in_three: int


def measure(amp: Amp, case: Case) -> Outcome:
    """Measures one amp as the bench tells, to the end of its checklist; and in the list's order."""
    names = [symptom.id for symptom in symptoms()]
    ids = [fault.id for fault in amp.model.faults]

    def read(belief: Belief, look: Look) -> Belief:
        for number, _, _ in look.shows:
            if number not in belief.seen:
                belief = belief.told(number, Seen(case.found[names[number]]))
        return belief

    belief, stopped = start(amp.model.network), None
    done: list[Look] = []
    first_rule = outside = 0
    while len(done) < len(amp.steps):
        look = chosen(belief, amp, [one.key for one in done])
        belief = read(belief, look)
        done.append(look)
        if not first_rule and float(belief.probabilities().max()) >= SURE:
            first_rule = len(done)
        if not case.faults <= {*_ranked(ids, belief.marginals())[:3]}:
            outside = len(done)
        if stopped is None and _no_doubt(belief):
            stopped = belief, len(done)
    at, steps = stopped or (belief, len(done))
    by_list, listed = start(amp.model.network), len(amp.steps)
    for count, look in enumerate(amp.steps, start=1):
        by_list = read(by_list, look)
        if _no_doubt(by_list):
            listed = count
            break
    p = at.marginals()
    held, held_p = likeliest(amp.model.network, at.probabilities())
    return Outcome(
        faults=case.faults,
        ranked=_ranked(ids, p),
        ranked_at_end=_ranked(ids, belief.marginals()),
        stated=tuple((float(q), name in case.faults) for q, name in zip(p, ids, strict=True)),
        named=tuple(ids[i] for i in np.flatnonzero(p >= SURE)),
        set_p=held_p,
        set_right=frozenset(ids[f] for f in held) == case.faults,
        isolated=stopped is not None,
        steps=steps,
        minutes=sum(look.minutes for look in done[:steps]),
        all_steps=len(amp.steps),
        all_minutes=sum(look.minutes for look in amp.steps),
        by_list=listed,
        first_rule=first_rule,
        in_three=min(outside + 1, len(done)),
    )


def _no_doubt(belief: Belief) -> bool:
    p = belief.marginals()
    return bool(((p >= SURE) | (p <= OUT)).all() and (p >= SURE).any())


def stage(key: str) -> Stage:
    """The stage of a step of the checklist."""
    return line_kinds()[key.partition("@")[0]].stage


def _ranked(ids: Sequence[str], p: np.ndarray) -> tuple[str, ...]:
    return tuple(ids[i] for i in np.argsort(-p, kind="stable"))


def chosen(belief: Belief, amp: Amp, done: Sequence[str]) -> Look:
    """What must come before power, in order; then what tells most a minute of what is open."""
    own = {look.key: look for look in amp.steps}
    for key in BEFORE_POWER:
        if key in own and key not in done:
            return own[key]
    open_ = [
        look
        for look in amp.steps
        if look.key not in done and (BEFORE_SIGNAL in done or stage(look.key) is not Stage.AUDIO)
    ]
    return next_looks(belief, open_, lambda _: True)[0].look


def run(world: str, n: int, seed: int) -> list[Outcome]:
    """Amps of a world until ``n`` of them have a fault; ten twists of it, one after the other."""
    shelf = amps()
    out: list[Outcome] = []
    faulty = 0
    for part in range(10):
        drawn = World(WORLDS[world], seed * 1000 + part)
        goal = n * (part + 1) // 10
        while faulty < goal:
            amp = shelf[len(out) % len(shelf)]
            prior = amp.model.network.prior
            priors = {f.id: float(q) for f, q in zip(amp.model.faults, prior, strict=True)}
            case = drawn.case(priors)
            out.append(measure(amp, case))
            faulty += bool(case.faults)
    return out


def ece(pairs: Sequence[tuple[float, bool]], bins: int = 10) -> float:
    """Expected calibration error: mean over the pairs of |stated - happened| of their bin."""
    if not pairs:
        return 0.0
    p = np.array([q for q, _ in pairs])
    hit = np.array([h for _, h in pairs], dtype=float)
    place = np.minimum((p * bins).astype(int), bins - 1)
    return float(sum(abs(float((p - hit)[place == b].sum())) for b in range(bins)) / len(pairs))


def summary(out: Sequence[Outcome]) -> dict[str, float]:
    """The figures of a world."""
    bad = [o for o in out if o.faults]
    stated = [pair for o in out for pair in o.stated]
    said = [pair for pair in stated if 0.05 <= pair[0] <= 0.95]
    true = [(f in o.ranked[:3], f in o.ranked_at_end[:3]) for o in bad for f in o.faults]
    return {
        "amps": len(out),
        "amps with a fault": len(bad),
        "true faults in the first three": mean(a for a, _ in true),
        "an amp's every fault in the first three": mean(o.faults <= {*o.ranked[:3]} for o in bad),
        "one of an amp's faults in the first three": mean(
            bool(o.faults & {*o.ranked[:3]}) for o in bad
        ),
        "true faults in the first three, whole checklist": mean(b for _, b in true),
        "isolated": mean(o.isolated for o in bad),
        "a named fault (90 % or more) is there": mean(f in o.faults for o in bad for f in o.named),
        "measurements to isolate, mean": mean(o.steps for o in bad),
        "measurements to isolate, median": median(o.steps for o in bad),
        "checklist": mean(o.all_steps for o in bad),
        "share of the checklist": mean(o.steps / o.all_steps for o in bad),
        "share of its minutes": mean(o.minutes / o.all_minutes for o in bad),
        "share by the list's own order": mean(o.by_list / o.all_steps for o in bad),
        "share until every fault is in the first three for good": mean(
            o.in_three / o.all_steps for o in bad
        ),
        "isolated by the first rule": mean(bool(o.first_rule) for o in bad),
        "share of the checklist by the first rule": mean(
            (o.first_rule or o.all_steps) / o.all_steps for o in bad
        ),
        "ECE, every fault": ece(stated),
        "ECE, stated 5 to 95 %": ece(said),
        "ECE, the likeliest set": ece([(o.set_p, o.set_right) for o in out]),
    }


def speed(faults: int = 40, found: int = 60) -> dict[str, float]:
    """Milliseconds (median of 50) of a posterior over no fault, each and every pair, made afresh
    from drawn tables; of one reading more; of weighing every measurement that is left."""
    dice = np.random.default_rng(1)
    tables = (dice.uniform(0.01, 0.2, faults), dice.uniform(0, 0.95, (faults, found)))
    errors = (np.full(found, 0.01), np.full(found, 0.01), np.full(found, 0.03))
    seen = [(s, Seen(bool(dice.uniform() < 0.1))) for s in range(found)]
    times: dict[str, list[float]] = {}
    for _ in range(50):
        net = Network(*tables, *errors)
        began = time.perf_counter()
        belief = posterior(net, seen)
        belief.marginals()
        times.setdefault("posterior", []).append(time.perf_counter() - began)
        began = time.perf_counter()
        belief.told(0, Seen(False)).marginals()
        times.setdefault("one reading more", []).append(time.perf_counter() - began)
        half = posterior(net, seen[: found // 2])
        left = [Look(f"{s}", ((s, 1, 1),), 1.0) for s in range(found // 2, found)]
        began = time.perf_counter()
        next_looks(half, left, lambda _: True)
        times.setdefault("next measurement", []).append(time.perf_counter() - began)
    return {name: median(each) * 1000 for name, each in times.items()}


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    found = {world: summary(run(world, asked.n, asked.seed)) for world in WORLDS}
    took = speed()
    told = ", ".join(f"{name} {ms:.1f} ms" for name, ms in took.items())
    text = table(found, asked.n, asked.seed) + f"\n\n40 faults, 60 symptoms, pairs: {told}.\n"
    print(text)
    if asked.out:
        page = asked.out / "causes.md"
        before, _, rest = page.read_text(encoding="utf-8").partition(BEGIN)
        after = rest.partition(END)[2]
        page.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")
        stored = json.dumps(
            {"n": asked.n, "seed": asked.seed, "worlds": found, "ms": took}, indent=1
        )
        (asked.out / "causes.json").write_text(stored + "\n", encoding="utf-8")


def table(found: Mapping[str, Mapping[str, float]], n: int, seed: int) -> str:
    """The figures as a Markdown table, a world a column."""
    names = list(next(iter(found.values())))
    lines = [f"Seed {seed}, {n:,} amps with a fault in each world.", ""]
    lines += ["| | " + " | ".join(found) + " |", "| --- |" + " ---: |" * len(found)]
    for name in names:
        cells = [f"{world[name]:,.4g}" for world in found.values()]
        lines.append(f"| {name} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
