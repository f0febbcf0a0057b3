"""The same model said as a Bayesian network and solved by variable elimination (pgmpy).

A network can say: every dated part alone in its class, no assembly but the chassis. The week of a
delivery, the week its part was made and the source are variables here, not sums worked out before.
"""

from __future__ import annotations

import math
import random
import warnings
from typing import Any

import numpy as np
import pytest

from . import text, time
from .brute import Brute
from .compare import engine
from .marks import document_factor, feature_p, pieces_of_part
from .marks import spread as marks_spread
from .setting import Setting, rivals
from .tables import NUMBERS, SHORT
from .units import Sources
from .world import random_world

pytestmark = pytest.mark.filterwarnings("ignore")
TOTAL = 78
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
CLASSES = ("potentiometer", "output-transformer", "loudspeaker")


def small_world(seed: int) -> dict[str, Any]:
    r = random.Random(seed)
    w = random_world(seed)
    early = [row for row in w["supplies"] if r.random() < 0.8]
    for row in early:
        row["first"], row["last"] = r.choice(
            ((None, None), (time.thursday(20), None), (None, time.thursday(50)))
        )
    rows = [
        {"value": v, "share": 1.0, "models": (), "first": a, "last": b}
        for v, a, b in (("cream", None, time.thursday(40)), ("black", time.thursday(35), None))
    ]
    models = [
        {
            "id": m,
            "odds": o,
            "softness": 3.0,
            "expected": [],
            "runs": [{"first": time.thursday(a), "last": time.thursday(b), "volume": 1.0}],
        }
        for m, o, a, b in (("lantern-20", 1.0, 5, 60), ("beacon-45", 2.0, 30, 70))
    ]
    w |= {
        "as_of": time.thursday(TOTAL - 1),
        "supplies": early,
        "repairs": [],
        "claim": None,
        "made": None,
        "models": models[: r.choice((0, 1, 2))],
        "rivals": None,
        "assume": {"scheme.first_year": 1930.0},
        "era": [(1930, 1.0), (1931, 2.0)],
        "features": {
            "knob-style": {
                "part": "knobs",
                "group": "",
                "cost": 0.3,
                "softness": 2.0,
                "values": rows,
            },
            "plate-colour": {
                "part": "knobs",
                "group": "",
                "cost": 0.9,
                "softness": 4.0,
                "values": rows[::-1],
            },
        },
    }
    parts, marks = [], []
    for c in r.sample(CLASSES, r.choice((1, 2, 2, 3))):
        week = r.randrange(15, 60)
        code = f"{r.choice(('992', '993', '99', '9921'))}{r.choice(('', '-'))}{time.year_of(week) % 10}"
        code += f"{time.number_in_year(week):02d}"
        i = r.randrange(len(code))
        if code[i] != "-" and r.random() < 0.6:
            code = code[:i] + "?" + code[i + 1 :]
        parts.append({"id": f"{SHORT[c]}-1", "class": c, "assembly": "chassis"})
        marks.append(
            {
                "part": f"{SHORT[c]}-1",
                "kind": "source-date-code",
                "text": code,
                "legibility": r.choice(("clear", "clear", "worn")),
            }
        )
    parts.append({"id": "knobs", "class": "knobs", "assembly": "chassis"})
    marks.append(
        {
            "part": "knobs",
            "kind": "feature",
            "feature": "knob-style",
            "value": r.choice(("cream", "black")),
        }
    )
    if r.random() < 0.5:
        marks.append(
            {"part": "knobs", "kind": "feature", "feature": "plate-colour", "value": "black"}
        )
    if r.random() < 0.5:
        marks.append(
            {"part": "knobs", "kind": "document", "text": "receipt", "date": time.thursday(60)}
        )
    w["parts"] = parts
    w["marks"] = [{**BLANK, **m, "n": n} for n, m in enumerate(marks, 1)]
    w["numbers"] = {**NUMBERS, **w["assume"]}
    return w


def binary(p: np.ndarray) -> np.ndarray:
    """A table of (seen, not seen): rows are the two outcomes."""
    return np.vstack([p.ravel(), 1 - p.ravel()])


def delivery_week(s: Setting, part_class: str) -> np.ndarray:
    """P(D | B, U, S), D off the grid last: shape (T + 1, T, 13, 3)."""
    t = s.total
    out = np.zeros((t + 1, t, 13, 3))
    for k, u in enumerate(s.u):
        out[:t, :, k, 0] = s.lag(part_class, float(u)).T
    service = s.service()
    half = int(s.numbers["period.half_width_weeks"])
    for b in range(t):
        after = list(range(b + 1, t)) or [t - 1]
        out[:t, b, :, 1] = (sum(service[r] for r in after) / len(after))[:, None]
        near = [d for d in range(t) if abs(d - b) <= half]
        out[near, b, :, 2] = 1 / len(near)
    out[t] = 1 - out[:t].sum(axis=0)
    return out


def made_week(t: int, spread: list[float]) -> np.ndarray:
    """P(W | D, S): W off the grid last, shape (T + 1, T + 1, 3)."""
    out = np.zeros((t + 1, t + 1, 3))
    for d in range(t):
        for e, p in enumerate(spread):
            out[d - e if d >= e else t, d, :2] += p
        out[d, d, 2] = 1.0
    out[t, t] = 1.0
    return out


def network(w: dict[str, Any]) -> tuple[Any, dict[str, int]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.models import DiscreteBayesianNetwork

    settings = [Setting(w, m) for _, m in rivals(w)]
    n, t, s0 = len(settings), settings[0].total, settings[0]
    net = DiscreteBayesianNetwork()
    evidence: dict[str, int] = {}

    def add(
        name: str, states: int, table: np.ndarray, given: tuple[tuple[str, int], ...] = ()
    ) -> None:
        net.add_node(name)
        for parent, _ in given:
            net.add_edge(parent, name)
        net.add_cpds(
            TabularCPD(
                name,
                states,
                table.reshape(states, -1),
                [g for g, _ in given] or None,
                [c for _, c in given] or None,
            )
        )

    add("M", n, np.array([p for p, _ in rivals(w)]))
    add("B", t, np.stack([s.prior for s in settings], axis=1), (("M", n),))
    add("U", 13, s0.u_weight)
    for part in w["parts"]:
        name, c = part["id"], part["class"]
        add(f"S {name}", 3, np.array(list(s0.p_origin(c).values())))
        if c not in CLASSES:
            continue
        pieces = pieces_of_part(s0, name)
        ways = [Sources(s, c, pieces) for s in settings]
        named = {k for x in ways for k in x.named}
        names = sorted({*named, *(k for x in ways for k in x.unlisted_original)}, key=str)
        among = {
            k: [i for i, x in enumerate(text.NUMBERS) if x == k or (len(x) == k and x not in named)]
            for k in names
        }
        source = np.empty((len(names), n, t, 3))
        seen = np.zeros((len(names), t + 1))
        for i, k in enumerate(names):
            for m, x in enumerate(ways):
                source[i, m, :, 0] = len(among[k]) * x.p_original(k)
                source[i, m, :, 1:] = len(among[k]) * x.p_replaced(k)[:, None]
            seen[i, :t] = sum(q.source[among[k]].mean() * q.week for q in pieces)
        add(f"C {name}", len(names), source, (("M", n), ("B", t), (f"S {name}", 3)))
        add(f"D {name}", t + 1, delivery_week(s0, c), (("B", t), ("U", 13), (f"S {name}", 3)))
        add(
            f"W {name}",
            t + 1,
            made_week(t, marks_spread(s0.numbers)),
            ((f"D {name}", t + 1), (f"S {name}", 3)),
        )
        add(f"X {name}", 2, binary(seen), ((f"C {name}", len(names)), (f"W {name}", t + 1)))
        evidence[f"X {name}"] = 0
    for m in w["marks"]:
        name = f"X {m['n']}"
        if m["kind"] == "feature":
            table = np.empty((n, t, 3))
            cost = w["features"][m["feature"]]["cost"]
            for i, s in enumerate(settings):
                p, match, count = feature_p(s, m)
                table[i, :, 0] = p
                table[i, :, 1:] = (1 - cost) * match + cost / count
            add(name, 2, binary(table), (("M", n), ("B", t), (f"S {m['part']}", 3)))
            evidence[name] = 0
        if m["kind"] == "document":
            add(name, 2, binary(document_factor(s0, m)), (("B", t),))
            evidence[name] = 0
    return net, evidence


@pytest.mark.parametrize("seed", range(12))
def test_variable_elimination_says_the_same(seed: int):
    from pgmpy.inference import VariableElimination

    w = small_world(seed)
    net, evidence = network(w)
    solve = VariableElimination(net)

    def ask(name: str, given: dict[str, int]) -> np.ndarray:
        return np.asarray(solve.query([name], given, show_progress=False).values)

    brute = Brute(w)
    weeks = ask("B", evidence)
    assert np.abs(weeks - brute.weeks()).max() < 1e-10
    log_evidence, known = 0.0, {}
    for name, state in evidence.items():
        log_evidence += math.log(ask(name, known)[state])
        known[name] = state
    assert abs(log_evidence - brute.log_evidence()) < 1e-10 * max(1.0, abs(log_evidence))
    if w["models"]:
        odds = ask("M", evidence)
        for i, m in enumerate(w["models"]):
            assert abs(odds[i] - brute.models()[m["id"]]) < 1e-10
    verdict = engine(w)
    assert np.abs(weeks - verdict.build.weeks).max() < 1e-10
    for part in verdict.parts:
        origins = ask(f"S {part.part}", evidence)
        mine = [brute.origin(part.part, o) for o in ("original", "later", "period")]
        said = [part.original, part.later_replacement, part.period_replacement]
        assert np.abs(origins - mine).max() < 1e-10
        assert np.abs(origins - said).max() < 1e-10
