"""Cut a world on which the two builds disagree down to the least that still shows it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

World = dict[str, Any]


def smaller(w: World) -> list[World]:
    """Worlds with one thing less."""
    out: list[World] = []
    for m in w["marks"]:
        rest = [x for x in w["marks"] if x is not m]
        named = {x["part"] for x in [*rest, *w["repairs"]]}
        out.append({**w, "marks": rest, "parts": [p for p in w["parts"] if p["id"] in named]})
    for p in w["parts"]:
        if not any(x["part"] == p["id"] for x in [*w["marks"], *w["repairs"]]):
            out.append({**w, "parts": [x for x in w["parts"] if x is not p]})
    for r in w["repairs"]:
        rest = [x for x in w["repairs"] if x is not r]
        named = {x["part"] for x in [*rest, *w["marks"]]}
        out.append({**w, "repairs": rest, "parts": [p for p in w["parts"] if p["id"] in named]})
    out += [{**w, "supplies": [x for x in w["supplies"] if x is not s]} for s in w["supplies"]]
    out += [
        {**w, "models": [x for x in w["models"] if x is not m], "rivals": None} for m in w["models"]
    ]
    for key, nothing in (("claim", None), ("made", None), ("rivals", None)):
        if w[key] is not nothing:
            out.append({**w, key: nothing})
    if w["assume"]:
        out.append({**w, "assume": {}, "numbers": dict(w["defaults"])})
        for k in w["assume"]:
            less = {n: v for n, v in w["assume"].items() if n != k}
            out.append({**w, "assume": less, "numbers": {**w["defaults"], **less}})
    for i, m in enumerate(w["models"]):
        if m["expected"]:
            models = list(w["models"])
            models[i] = {**m, "expected": []}
            out.append({**w, "models": models})
    for i, m in enumerate(w["marks"]):
        if m["legibility"] != "clear":
            changed = list(w["marks"])
            changed[i] = {**m, "legibility": "clear"}
            out.append({**w, "marks": changed})
    return out


def minimise(w: World, fails: Callable[[World], bool]) -> World:
    progress = True
    while progress:
        progress = False
        for candidate in smaller(w):
            try:
                if fails(candidate):
                    w, progress = candidate, True
                    break
            except Exception:  # a cut that makes nonsense is no smaller case
                continue
    return w


def describe(w: World) -> str:
    """The world's dossier in a few lines."""
    lines = [f"as_of {w['as_of']} made {w['made']} rivals {w['rivals']} assume {w['assume']}"]
    for m in w["models"]:
        lines.append(
            f"model {m['id']} odds {m['odds']} soft {m['softness']} runs "
            + str([(str(r["first"]), str(r["last"]), r["volume"]) for r in m["runs"]])
            + f" expects {m['expected']}"
        )
    for s in w["supplies"]:
        lines.append(
            f"supply {s['number']} {s['class']} {s['share']} {s['first']}..{s['last']} "
            f"soft {s['softness']} {s['models']}"
        )
    for p in w["parts"]:
        lines.append(f"part {p['id']} {p['class']} {p['assembly']}")
    for m in w["marks"]:
        lines.append(
            "mark " + str({k: v for k, v in m.items() if v not in (None, "", "clear", "seen")})
        )
        if m["feature"]:
            f = w["features"][m["feature"]]
            lines.append(
                f"  feature {m['feature']} group {f['group']!r} cost {f['cost']} soft {f['softness']} "
                + str(
                    [
                        (v["value"], v["share"], str(v["first"]), str(v["last"]), v["models"])
                        for v in f["values"]
                    ]
                )
            )
    for r in w["repairs"]:
        lines.append(f"repair {r}")
    if w["claim"]:
        lines.append(f"claim {w['claim']}")
    return "\n".join(lines)
