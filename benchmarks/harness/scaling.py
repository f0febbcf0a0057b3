"""What a verdict costs as the amp grows: marks, weeks, parts of one class."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from math import isnan, nan
from pathlib import Path
from statistics import median

from benchmarks import dossiers
from benchmarks.harness.forty import forgotten
from benchmarks.harness.page import figure, table
from benchmarks.harness.timing import set_apart
from endbell.chronology import weigh
from endbell.chronology.weighing import posterior
from endbell.chronology.workspace import Workspace
from endbell.dossier import Dossier
from endbell.reference import Reference

LIMIT_SECONDS = 20.0
"""A line whose verdict takes longer than this is not drawn further."""

LIMIT_POSTERIOR = 4.0
"""After a posterior that takes longer, in seconds, the verdict is not waited for."""


@dataclass(frozen=True)
class Sizes:
    """The points of every row."""

    marks: tuple[int, ...] = (5, 10, 20, 40, 80, 120, 160, 200)
    years: tuple[int, ...] = (1950, 1960, 1970, 1980, 1990, 2000, 2010, 2026)
    parts: tuple[int, ...] = tuple(range(1, 13))
    rounds: int = 5
    seconds: float = 60.0


SMALLEST = Sizes((5,), (1950,), (2,), 1, 0.0)


@dataclass(frozen=True)
class Point:
    """One point of a line: medians, milliseconds."""

    line: str
    x: int
    posterior: float
    verdict: float
    verdict_cpu: float
    rounds: int


@dataclass(frozen=True)
class Series:
    """A chart: several lines over one quantity."""

    name: str
    quantity: str
    says: str
    points: tuple[Point, ...]
    stopped: tuple[str, ...]


Making = tuple[str, int, Callable[[], tuple[Dossier, Reference]]]


def measure(sizes: Sizes) -> list[Series]:
    common = dossiers.reference_with(())
    maker = dossiers.reference_with((dossiers.MAKER,))

    def amp(
        rows: list[dossiers.Row], as_of: date = dossiers.AS_OF, with_maker: bool = False
    ) -> Callable[[], tuple[Dossier, Reference]]:
        reference = maker if with_maker else common
        packs = (dossiers.MAKER,) if with_maker else ()
        text = dossiers.text_of(rows, as_of=as_of, packs=packs)
        return lambda: (dossiers.parsed(text, reference), reference)

    kinds = ("without a maker's pack", "with the maker's pack")
    marks = [
        (line, n, amp(dossiers.with_marks(n), with_maker=line == kinds[1]))
        for n in sizes.marks
        for line in kinds
    ]
    weeks = [
        (kinds[0], _weeks(date(y, 3, 2)), amp(dossiers.of_1948(), date(y, 3, 2)))
        for y in sizes.years
    ]
    parts = [
        (how, n, amp(dossiers.pots(n, how)))
        for n in sizes.parts
        for how in ("equal", "far apart", "weeks apart")
    ]
    return [
        _series(
            "marks",
            "marks",
            "Codes with one year digit, dealt out over six classes, three deliveries in each; "
            "as_of 2026.",
            marks,
            sizes,
        ),
        _series(
            "weeks",
            "weeks of the grid",
            f"The same twelve codes with one year digit; as_of {sizes.years[0]} to "
            f"{sizes.years[-1]}. Every ten years more add a decade that the codes can mean.",
            weeks,
            sizes,
        ),
        _series(
            "parts",
            "potentiometers",
            "Beside one output transformer; as_of 2026, no maker's pack. Equal: one code. Far "
            "apart: no two can have come in one delivery. Weeks apart: all different, two weeks "
            "from one to the next, so that most sets of them can have come together. More than "
            "six different codes are weighed in more than one group (docs/model.md, section 6).",
            parts,
            sizes,
        ),
    ]


def _weeks(as_of: date) -> int:
    return (as_of - date(1929, 12, 30)).days // 7 + 1


def _series(name: str, quantity: str, says: str, making: Sequence[Making], sizes: Sizes) -> Series:
    """All points in turn, round after round; a line ends where one verdict takes too long."""
    made = [(line, x, make()) for line, x, make in making]
    set_apart()
    times: dict[tuple[str, int], list[tuple[float, float, float]]] = {}
    ended: dict[str, int] = {}
    began = time.perf_counter()
    for turn in range(sizes.rounds):
        if turn and time.perf_counter() - began > sizes.seconds:
            break
        for line, x, (dossier, reference) in made:
            if x > ended.get(line, x):
                continue
            took = _once(dossier, reference)
            times.setdefault((line, x), []).append(took)
            if not took[1] <= LIMIT_SECONDS:  # or it was not waited for
                ended[line] = min(x, ended.get(line, x))
    points = tuple(
        Point(line, x, *(1000 * median(t) for t in zip(*runs, strict=True)), len(runs))
        for (line, x), runs in times.items()
    )
    return Series(name, quantity, says, points, tuple(f"{k} at {x}" for k, x in ended.items()))


def _once(dossier: Dossier, reference: Reference) -> tuple[float, float, float]:
    """Seconds of a cold posterior, of a cold verdict (one step), and the processor's for that.

    The last two are nan where the verdict was not waited for.
    """
    ws = forgotten()
    start = time.perf_counter()
    _ = posterior(dossier, reference, workspace=ws).joint.by_week
    middle = time.perf_counter()
    if middle - start > LIMIT_POSTERIOR:
        return middle - start, nan, nan
    fresh: Workspace = forgotten()
    wall, cpu = time.perf_counter(), time.process_time()
    weigh(dossier, reference, looks=1, workspace=fresh)
    return middle - start, time.perf_counter() - wall, time.process_time() - cpu


# ---- said


def section(series: Sequence[Series], charts: dict[str, Path], why_none: str | None) -> list[str]:
    out = [
        "## As the amp grows",
        "",
        "Cold, the whole verdict one step ahead (`looks=1`), medians. All points of a table in "
        "turn, round after round.",
        "",
    ]
    if why_none:
        out += [f"No charts: {why_none}.", ""]
    for s in series:
        out += [f"### {s.quantity[0].upper()}{s.quantity[1:]}", "", s.says, ""]
        if s.name in charts:
            alt = f"milliseconds (logarithmic) against {s.quantity}; the table below says the same"
            out += [f"![{alt}]({charts[s.name].name})", ""]
        lines = list(dict.fromkeys(p.line for p in s.points))
        by = {(p.line, p.x): p for p in s.points}
        head = [s.quantity]
        for line in lines:
            head += [f"{line}: posterior ms", "verdict ms", "verdict, processor ms"]
        rows: list[list[str]] = []
        for x in sorted({p.x for p in s.points}):
            row = [f"{x:,}"]
            for line in lines:
                p = by.get((line, x))
                values = ("", "", "") if p is None else (p.posterior, p.verdict, p.verdict_cpu)
                row += [v if isinstance(v, str) else _figure(v) for v in values]
            rows.append(row)
        out += table(head, rows)
        if s.stopped:
            said = "; ".join(s.stopped)
            out += [
                f"Not drawn further after {LIMIT_SECONDS:g} s for one verdict, nor is a verdict "
                f"waited for whose posterior alone takes {LIMIT_POSTERIOR:g} s: {said}.",
                "",
            ]
    return out


def _figure(x: float) -> str:
    return "not waited for" if isnan(x) else figure(x)
