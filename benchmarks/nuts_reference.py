"""NUTS (NumPyro) on the model of docs/model.md with time continuous, against the exact week grid.

Stock-age nodes, origins and delivery partitions are summed exactly inside the log posterior; only
the moment B of final assembly is sampled. Lags of originals, windows and prior are continuous in B:
the log-normal, exponential and early masses are differences of their distribution functions at
b - d and b - d + 1, which at the middle of every week equal the week grid's. Two things are linear
interpolations between weeks, because they change slowly with B: what a later or period replacement
says. The text tables come from the slow twin in tests/oracle, not from the engine.

    PYTHONPATH=src python benchmarks/nuts_reference.py
"""

from __future__ import annotations

import argparse
import importlib.metadata
import itertools
import platform
import statistics
import sys
import time as clock
from datetime import date
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import numpyro
import numpyro.distributions as dist
from jax.scipy.special import ndtr
from numpyro.diagnostics import effective_sample_size, split_gelman_rubin
from numpyro.infer import MCMC, NUTS

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "tests"))

from oracle import lags, marks, time  # noqa: E402
from oracle.compare import engine  # noqa: E402
from oracle.setting import ORIGINS, Setting  # noqa: E402
from oracle.tables import NUMBERS  # noqa: E402
from oracle.units import DatedGroup  # noqa: E402
from oracle.world import random_world  # noqa: E402

jax.config.update("jax_enable_x64", True)
CHAINS, WARM_UP, DRAWS = 4, 500, 1000
BLANK = {
    "text": "",
    "legibility": "clear",
    "result": "seen",
    "feature": None,
    "value": None,
    "quantity": None,
    "unit": None,
    "uncertainty": None,
    "date": None,
}


# --- three amps -----------------------------------------------------------------------------------


def amp(codes: list[tuple[str, str, str, str]], model: bool, knobs: str | None) -> dict[str, Any]:
    """A world with these codes (part, class, assembly, text); knobs: a feature with two windows."""
    w = random_world(0)
    parts = [{"id": p, "class": c, "assembly": a} for p, c, a, _ in codes]
    found = [
        {**BLANK, "n": n, "part": p, "kind": "source-date-code", "text": t}
        for n, (p, _, _, t) in enumerate(codes, 1)
    ]
    if knobs:
        parts.append({"id": "knobs", "class": "knobs", "assembly": "chassis"})
        found.append(
            {
                **BLANK,
                "n": len(found) + 1,
                "part": "knobs",
                "kind": "feature",
                "feature": "knob-style",
                "value": knobs,
            }
        )
    rows = [
        {"value": v, "share": 1.0, "models": (), "first": a, "last": b}
        for v, a, b in (("cream", None, date(1959, 6, 1)), ("black", date(1959, 3, 1), None))
    ]
    run = [{"first": date(1953, 1, 1), "last": date(1969, 12, 31), "volume": 1.0}]
    return {
        **w,
        "as_of": date(1975, 6, 1),
        "parts": parts,
        "marks": found,
        "repairs": [],
        "claim": None,
        "made": None,
        "rivals": None,
        "assume": {},
        "numbers": dict(NUMBERS),
        "era": [(1944, 0.05), (1948, 1.0), (1958, 2.0), (1970, 1.5), (1976, 0.2)],
        "models": [{"id": "lantern-20", "runs": run, "odds": 1.0, "softness": 13.0, "expected": []}]
        if model
        else [],
        "supplies": [
            {
                "number": n,
                "class": c,
                "share": s,
                "first": None,
                "last": None,
                "softness": 0.0,
                "models": (),
            }
            for n, c, s in (
                ("992", "potentiometer", 0.6),
                ("991", "potentiometer", 0.3),
                ("993", "output-transformer", 0.9),
                ("995", "loudspeaker", 0.7),
            )
        ],
        "features": {
            "knob-style": {
                "part": "knobs",
                "group": "",
                "cost": 0.4,
                "softness": 13.0,
                "values": rows,
            }
        },
    }


POTS = [
    (f"pot-{i}", "potentiometer", "chassis", t)
    for i, t in ((1, "992-738"), (2, "992-7?8"), (3, "991-735"))
]
OT = ("ot", "output-transformer", "chassis", "993-741")
AMPS = {
    "one-digit years only": amp([*POTS, OT], model=False, knobs=None),
    "the same, and one year of two digits": amp(
        [*POTS, OT, ("sp-1", "loudspeaker", "speakers", "995-5740")], model=False, knobs=None
    ),
    "the same, loudspeaker swapped, knobs seen, model known": amp(
        [*POTS, OT, ("sp-1", "loudspeaker", "speakers", "995-6512")], model=True, knobs="cream"
    ),
}


# --- the log posterior, continuous in B -----------------------------------------------------------


def interval(cdf: Any, n: jnp.ndarray) -> jnp.ndarray:
    return cdf(n + 1) - cdf(n)


def lag_mass(n: jnp.ndarray, median: jnp.ndarray, x: dict[str, float]) -> jnp.ndarray:
    """P(a lag between n and n + 1 weeks), n real."""

    def normal(v: jnp.ndarray) -> jnp.ndarray:
        safe = jnp.where(v > 0, v, 1.0)
        return jnp.where(v > 0, ndtr((jnp.log(safe) - jnp.log(median)) / x["sigma"]), 0.0)

    def tail(v: jnp.ndarray) -> jnp.ndarray:
        return jnp.where(v > 0, 1 - jnp.exp(-jnp.maximum(v, 0.0) / x["old_stock_mean_weeks"]), 0.0)

    def early(v: jnp.ndarray) -> jnp.ndarray:
        return jnp.clip((v + 8) / 8, 0.0, 1.0)

    tau, soon = x["old_stock_weight"], x["early_weight"]
    return (
        (1 - tau - soon) * interval(normal, n) + tau * interval(tail, n) + soon * interval(early, n)
    )


def group_likelihood(s: Setting, part_class: str, parts: list[str]) -> Any:
    """A function of b (real weeks) that gives the group's likelihood at the 13 nodes."""
    group = DatedGroup(s, part_class, parts)
    x = {
        k: s.numbers[f"lag.{part_class}.{k}"]
        for k in (
            "median_weeks",
            "sigma",
            "old_stock_weight",
            "old_stock_mean_weeks",
            "early_weight",
        )
    }
    blocks = [b for n in range(1, len(parts) + 1) for b in itertools.combinations(parts, n)]
    made = {}
    for b in blocks:
        by_source = group.sources.sum_over(np.prod([group.h[p] for p in b], axis=0))
        made[b] = sum(group.sources.p_original(k)[0] * row for k, row in by_source.items())
    prior, alpha = s.p_origin(part_class), s.numbers["delivery.concentration"]
    stories = []
    for choice in itertools.product(ORIGINS, repeat=len(parts)):
        own = [p for p, o in zip(parts, choice, strict=True) if o == "original"]
        later = [p for p, o in zip(parts, choice, strict=True) if o == "later"]
        single = [p for p, o in zip(parts, choice, strict=True) if o == "period"]
        base = float(np.prod([prior[o] for o in choice]))
        for first in lags.partitions(own):
            for second in lags.partitions(later):
                weight = base * lags.ewens([len(b) for b in first], alpha)
                weight *= lags.ewens([len(b) for b in second], alpha)
                stories.append(
                    (
                        weight,
                        [tuple(sorted(b)) for b in first],
                        [tuple(sorted(b)) for b in second],
                        single,
                    )
                )

    days = {block: np.flatnonzero(made[block]) for block in blocks}
    every_day = jnp.asarray(np.concatenate(list(days.values())), dtype=float)
    every_mass = jnp.asarray(np.concatenate([made[block][days[block]] for block in blocks]))
    owner = np.repeat(np.arange(len(blocks)), [len(d) for d in days.values()])
    medians = jnp.asarray(x["median_weeks"] * np.exp(s.u))[:, None]
    slow = jnp.asarray(
        np.array([*(group.g[block] for block in blocks), *(group.p[p] for p in parts)])
    )
    weights = jnp.array([w for w, *_ in stories])
    used = jnp.asarray(
        np.array(
            [
                [
                    *(b in first for b in blocks),
                    *(b in second for b in blocks),
                    *(p in single for p in parts),
                ]
                for _, first, second, single in stories
            ]
        )
    )

    def at(b: jnp.ndarray) -> jnp.ndarray:
        mass = lag_mass(b - every_day, medians, x) * every_mass  # (13, all days of all blocks)
        f = jax.ops.segment_sum(mass.T, owner, num_segments=len(blocks)).T
        left = jnp.clip(jnp.floor(b).astype(int), 0, s.total - 2)
        share = jnp.clip(b - left, 0.0, 1.0)
        gp = (1 - share) * slow[:, left] + share * slow[:, left + 1]
        value = jnp.concatenate([f, jnp.tile(gp, (13, 1))], axis=1)  # (13, blocks + blocks + parts)
        return jnp.prod(jnp.where(used, value[:, None, :], 1.0), axis=2) @ weights

    return at


def soft(b: jnp.ndarray, row: dict[str, Any], softness: float) -> jnp.ndarray:
    w = jnp.ones(())
    if row["first"] is not None:
        w = w * jax.nn.sigmoid((b - time.week_of(row["first"]) + 0.5) / softness)
    if row["last"] is not None:
        w = w * jax.nn.sigmoid((time.week_of(row["last"]) - b + 0.5) / softness)
    return w


def posterior(world: dict[str, Any]) -> tuple[Any, int]:
    """The NumPyro model of one world, and the number of weeks of its grid."""
    model = world["models"][0] if world["models"] else None
    s = Setting(world, model)
    dated = [p["id"] for p in world["parts"] if marks.is_dated(world, p["id"])]
    groups = []
    for c in sorted({marks.class_of(world, p) for p in dated}):
        groups.append(
            group_likelihood(s, c, sorted(p for p in dated if marks.class_of(world, p) == c))
        )
    knots = sorted((time.week_of(date(y, 1, 1)), v) for y, v in world["era"])
    at, value = jnp.array([k for k, _ in knots], dtype=float), jnp.array([v for _, v in knots])
    era_sum = float(time.knots_density(s.total, world["era"]).sum())
    leak, eps = s.numbers["prior.leak"], s.numbers["feature.leak"]

    def prior(b: jnp.ndarray) -> jnp.ndarray:
        if model is None:
            share = jnp.interp(b, at, value) / era_sum
        else:
            share = sum(
                r["volume"]
                * soft(b, r, model["softness"])
                / float(s.window(r, model["softness"]).sum())
                for r in model["runs"]
            ) / sum(r["volume"] for r in model["runs"])
        return (1 - leak) * share + leak / s.total

    def features(b: jnp.ndarray) -> jnp.ndarray:
        out = jnp.ones(())
        for m in world["marks"]:
            if m["kind"] == "feature":
                f = world["features"][m["feature"]]
                c = {r["value"]: r["share"] * soft(b, r, f["softness"]) for r in f["values"]}
                n = len(c) + 1
                p = (1 - eps) * c[m["value"]] / sum(c.values()) + eps / n
                o = s.p_origin(marks.class_of(world, m["part"]))["original"]
                match = marks.feature_p(s, m)[1]
                out = out * (o * p + (1 - o) * ((1 - f["cost"]) * match + f["cost"] / n))
        return out

    weight = jnp.asarray(s.u_weight)

    def numpyro_model() -> None:
        moment = numpyro.sample("B", dist.Uniform(0.0, float(s.total)))
        b = moment - 0.5  # a whole number in the middle of a week
        product = weight
        for group in groups:
            product = product * group(b)
        numpyro.factor("amp", jnp.log(prior(b)) + jnp.log(features(b)) + jnp.log(jnp.sum(product)))

    return numpyro_model, s.total


# --- the comparison -------------------------------------------------------------------------------


def by_month(weeks: np.ndarray) -> np.ndarray:
    """p of each calendar month (of the weeks' Thursdays) from p of each week."""
    out: dict[tuple[int, int], float] = {}
    for w, p in enumerate(weeks):
        out[time.month_of(w)] = out.get(time.month_of(w), 0.0) + float(p)
    return np.array(list(out.values()))


def by_peak(weeks: np.ndarray, years: list[int]) -> np.ndarray:
    """Mass nearest to each peak year."""
    out = np.zeros(len(years))
    for w, p in enumerate(weeks):
        out[int(np.argmin([abs(time.year_of(w) - y) for y in years]))] += p
    return out


def peaks(weeks: np.ndarray) -> list[int]:
    """Years of the local maxima that hold at least 2% within two years and are five years apart."""
    years = np.array([time.year_of(w) for w in range(len(weeks))])
    mass = {int(y): float(weeks[years == y].sum()) for y in np.unique(years)}
    out: list[int] = []
    for y in sorted(mass, key=lambda v: -mass[v]):
        if mass[y] > 0.02 and all(abs(y - o) >= 5 for o in out):
            out.append(y)
    return sorted(out)


def distance(p: np.ndarray, q: np.ndarray) -> float:
    return float(np.abs(p - q).sum() / 2)


def compare(
    name: str, world: dict[str, Any], draws: int, warm_up: int, seed: int
) -> dict[str, Any]:
    """NUTS and the engine on one amp: distances, diagnostics, seconds."""
    model, total = posterior(world)
    start = clock.perf_counter()
    mcmc = MCMC(
        NUTS(model),
        num_warmup=warm_up,
        num_samples=draws,
        num_chains=CHAINS,
        chain_method="sequential",
        progress_bar=False,
    )
    mcmc.run(jax.random.PRNGKey(seed))
    moments = np.asarray(mcmc.get_samples(group_by_chain=True)["B"])
    nuts_seconds = clock.perf_counter() - start
    took = []
    for _ in range(3):
        start = clock.perf_counter()
        verdict = engine(world)
        took.append(clock.perf_counter() - start)
    exact = np.asarray(verdict.build.weeks)
    chains = [
        np.bincount(np.clip(c.astype(int), 0, total - 1), minlength=total) / len(c) for c in moments
    ]
    pooled = np.mean(chains, axis=0)
    years = peaks(exact)
    want = by_peak(exact, years)
    r = np.random.default_rng(seed)
    floor = statistics.mean(
        distance(
            by_month(r.multinomial(CHAINS * draws, exact / exact.sum()) / (CHAINS * draws)),
            by_month(exact),
        )
        for _ in range(20)
    )
    return {
        "amp": name,
        "peaks": ", ".join(f"{y} {p:.3f}" for y, p in zip(years, want, strict=True)),
        "pooled": ", ".join(f"{p:.3f}" for p in by_peak(pooled, years)),
        "tv": distance(by_month(pooled), by_month(exact)),
        "floor": floor,
        "chains": ", ".join(f"{distance(by_month(c), by_month(exact)):.2f}" for c in chains),
        "off": sum(distance(by_month(c), by_month(exact)) > 0.25 for c in chains),
        "rhat": float(split_gelman_rubin(moments)),
        "ess": float(effective_sample_size(moments)),
        "nuts": nuts_seconds,
        "engine": statistics.median(took),
    }


def table(rows: list[dict[str, Any]], draws: int, warm_up: int, seed: int, command: str) -> str:
    versions = ", ".join(
        f"{p} {importlib.metadata.version(p)}" for p in ("numpyro", "jax", "numpy")
    )
    lines = [
        "# NUTS against the exact week grid",
        "",
        f"Command: `{command}`. Seed {seed}, {CHAINS} chains of {draws} draws after "
        f"{warm_up}, 64 bit, chains "
        f"one after another. Python {platform.python_version()}, {versions}, {platform.system()} "
        f"{platform.machine()}.",
        "",
        "Sampled: the moment B, continuous. Summed inside: stock-age nodes, origins, "
        "partitions, sources. "
        "Later and period replacements are interpolated linearly between weeks; everything else is "
        "continuous in B and equals the week grid in the middle of each week.",
        "",
        "| amp | peaks of the engine (year, mass) | the same masses by NUTS | months: total "
        "variation | "
        "expected of as many independent draws | each chain's | chains more than 0.25 off | split "
        "R-hat | effective draws | NUTS, s | engine (whole verdict), s |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for r in rows:
        lines.append(
            f"| {r['amp']} | {r['peaks']} | {r['pooled']} | {r['tv']:.3f} | {r['floor']:.3f} "
            f"| {r['chains']} | "
            f"{r['off']} of {CHAINS} | {r['rhat']:.2f} | {r['ess']:.0f} | {r['nuts']:.1f} | "
            f"{r['engine']:.2f} |"
        )
    lines += [
        "",
        "NUTS seconds include compilation. The engine's seconds include everything a verdict holds "
        "(influence, stability, next checks). Two cores, shared with other work: compare them "
        "as proportions.",
        "",
    ]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--out", type=Path, default=HERE / "results" / "nuts.md")
    parser.add_argument("--draws", type=int, default=DRAWS)
    parser.add_argument("--warm-up", type=int, default=WARM_UP)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    rows = [compare(name, w, args.draws, args.warm_up, args.seed) for name, w in AMPS.items()]
    command = "PYTHONPATH=src python benchmarks/nuts_reference.py"
    text = table(rows, args.draws, args.warm_up, args.seed, command)
    args.out.parent.mkdir(parents=True, exist_ok=True)
    args.out.write_text(text)
    print(text)


if __name__ == "__main__":
    main()
