"""results/workbench.md, made from results/workbench.json: what was measured, bar by bar."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchmarks.harness import machine
from benchmarks.harness.page import figure, table

from .client import Answer
from .mix import SAID, WEIGHTS

RESULTS = Path(__file__).resolve().parents[1] / "results"
LIST, SEARCH = "list", "search while typing"
STORES = ("SQLite", "PostgreSQL")
PERCENTILES = (50, 95, 99, 100)


def percentile(values: Sequence[float], share: float) -> float:
    """The smallest value below or at which ``share`` percent of them lie.

    >>> percentile([1, 2, 3, 4], 50), percentile([1, 2, 3, 4], 95), percentile([], 95)
    (2, 4, 0.0)
    """
    if not values:
        return 0.0
    rank = -(-len(values) * share // 100)
    return sorted(values)[max(int(rank) - 1, 0)]


def summary(
    which: str,
    answers: Sequence[Answer],
    told: Sequence[Answer],
    megabytes: Sequence[tuple[float, float]],
) -> dict[str, Any]:
    """The figures of one minute."""
    classes: defaultdict[str, list[float]] = defaultdict(list)
    for answer in (*answers, *told):
        classes[answer.asked.name].append(answer.ms)
    classes["all that were due"] = [answer.ms for answer in answers]
    wrong = [answer.wrong for answer in (*answers, *told) if answer.wrong]
    return {
        "store": which,
        "classes": {
            name: [len(ms), *(percentile(ms, p) for p in PERCENTILES)]
            for name, ms in classes.items()
        },
        "errors": len(wrong),
        "wrong": wrong[:10],
        "megabytes": [[round(t), round(mb, 1)] for t, mb in megabytes],
    }


def write(found: Mapping[str, Any], folder: Path | None = None) -> None:
    """Put ``found`` beside what was measured before, and make the page anew."""
    folder = folder or RESULTS
    folder.mkdir(parents=True, exist_ok=True)
    kept = folder / "workbench.json"
    have: dict[str, Any] = json.loads(kept.read_text()) if kept.exists() else {}
    stamp = {
        "day": datetime.now(UTC).date().isoformat(),
        "versions": machine.versions(),
        "processor": machine.processor(),
    }
    have |= {name: {**stamp, **values} for name, values in found.items()}
    kept.write_text(json.dumps(have, indent=1) + "\n", encoding="utf-8")
    lines = [*_head(have), *_bars(have), *_keys(have), *_load(have)]
    (folder / "workbench.md").write_text("\n".join(lines).rstrip() + "\n", encoding="utf-8")


def _head(have: Mapping[str, Any]) -> list[str]:
    one = next(iter(have.values()))
    return [
        "# The workbench measured",
        "",
        "Made by `make load`. The server is the real one, over 10,000 dossiers dealt out by the"
        " simulator; browser or client run on the same machine and take their share of it.",
        "",
        f"{one['processor']}. {one['versions']}.",
        "",
    ]


def _bars(have: Mapping[str, Any]) -> list[str]:
    rows: list[list[str]] = []

    def bar(what: str, limit: str, measured: str, met: bool) -> None:
        rows.append([what, limit, measured, "yes" if met else "**no**"])

    if "keys" in have:
        keys = have["keys"]
        p95 = keys["ms"][1]
        bar("key-up to moved strip, p95", "150 ms", f"{figure(p95)} ms", p95 <= 150)
        hand = keys["median_hand"]
        bar("clear 6-digit code, taps and keys, median", "9", f"{hand:g}", hand <= 9)
    for which in STORES:
        if which not in have:
            continue
        run = have[which]
        of = run["classes"]
        every = of["all that were due"][2]
        bar(f"{which}: every class together, p95", "50 ms", f"{figure(every)} ms", every < 50)
        search, listed = of[SEARCH][2], of[LIST][2]
        bar(f"{which}: search, p95", "30 ms", f"{figure(search)} ms", search < 30)
        bar(f"{which}: a list opens, p95", "100 ms", f"{figure(listed)} ms", listed < 100)
        bar(f"{which}: errors", "0", str(run["errors"]), run["errors"] == 0)
        if which == "SQLite":
            bar("'database is locked'", "never", str(run["locked"]).lower(), not run["locked"])
        first, last = _ends(run["megabytes"])
        flat = last <= 1.1 * first
        bar(f"{which}: memory, first and last ten seconds", "flat", _mb(first, last), flat)
    return table(("bar", "limit", "measured", "met"), rows)


def _keys(have: Mapping[str, Any]) -> list[str]:
    if "keys" not in have:
        return []
    keys = have["keys"]
    p50, p95, most = keys["ms"]
    return [
        "## From a key to the moved strip",
        "",
        f"{keys['entries']} entries typed in a real Chromium; each key's time runs from its key-up"
        " to the strip on the page that counts it in. Load of the machine meanwhile:"
        f" {keys['load']}{_ahead(keys)}; {figure(keys['cpu_ms'])} ms of the server family's"
        " processor time a key.",
        "",
        *table(
            ("keys", "p50 ms", "p95 ms", "max ms"),
            [[str(keys["keys"]), figure(p50), figure(p95), figure(most)]],
        ),
    ]


def _load(have: Mapping[str, Any]) -> list[str]:
    runs = [have[which] for which in STORES if which in have]
    if not runs:
        return []
    named = " | ".join(STORES)
    lines = ["## Fifty requests a second", ""]
    for run in runs:
        first, last = _ends(run["megabytes"])
        lines += [
            f"- {run['store']}: {run['a_second']:g} a second for {run['seconds']} s over"
            f" {run['marks']:,} marks; {run['errors']} errors; memory of the server and its"
            f" workers {_mb(first, last)}; {figure(run['server_seconds'] / run['wall_seconds'])}"
            f" processors used by them, {figure(run['own_seconds'] / run['wall_seconds'])} by the"
            f" client; load of the machine {run['load']}{_ahead(run)}.",
        ]
    lines += ["", f"p50 / p95 / p99 / max in ms ({named}):", ""]
    names = [*WEIGHTS, *(n for n in runs[0]["classes"] if n not in WEIGHTS)]
    rows = [
        [
            name,
            f"{WEIGHTS[name] / 50:.0%}" if name in WEIGHTS else "",
            *(_line(run["classes"].get(name)) for run in runs),
        ]
        for name in names
    ]
    lines += table(("class", "share", *(run["store"] for run in runs)), rows)
    lines += [f"- {name}: {said}" for name, said in SAID.items()]
    lines += [
        "- panels, as a page is told to: fetched by the forty pages that stand open, each time a"
        " verdict comes; on top of the fifty",
        "",
        "A panel that is asked for the first time waits until the whole verdict is weighed; the"
        " page shows 'being weighed' until then, and the strip long before.",
    ]
    return lines


def _ahead(run: Mapping[str, Any]) -> str:
    """Said where it ran ahead of other work that the machine had."""
    priority = run.get("priority", 0)
    return f" (other work; this at priority {priority})" if priority < 0 else ""


def _line(found: Sequence[float] | None) -> str:
    return " / ".join(figure(ms) for ms in found[1:]) if found else ""


def _ends(megabytes: Sequence[Sequence[float]]) -> tuple[float, float]:
    ends = [mb for _, mb in megabytes[:10]], [mb for _, mb in megabytes[-10:]]
    return sum(ends[0]) / len(ends[0]), sum(ends[1]) / len(ends[1])


def _mb(first: float, last: float) -> str:
    return f"{first:.0f} → {last:.0f} MB"
