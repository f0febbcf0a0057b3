"""How much likelier a fault is for what the dossier knows of the part: original or not, how old.

A part's failures are taken to grow as a power of its age (a Weibull hazard, from memory), held
between a least and a most; figures by class stand in ``data/causes/classes.csv``.  Valves wear by
hours and not by years: their class has no age at all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase

from ..facts import Fact, fact
from ..readings import Bench
from .tables import Fault, assumed


@dataclass(frozen=True, slots=True)
class Ageing:
    """``times``: by how much the odds of a fault change; ``says``: why, '' where they do not."""

    times: float
    says: str = ""


def ageing(fault: Fault, bench: Bench) -> Ageing:
    """What the dossier's record of its parts does to the prior of ``fault``."""
    row = fact("causes", "classes", fault.part_class, "class")
    if not float(row["reference_years"]):
        return Ageing(1.0)
    known = _parts(fault, row, bench)
    if not known:
        return Ageing(1.0)
    now = counted_to(bench)
    each = {at: _times(row, original, bench.parts_year.get(at), now) for at, original in known}
    mean = sum(each.values()) / len(each)
    worst = max(each, key=lambda at: each[at])
    return Ageing(mean, _says(worst, dict(known)[worst], bench.parts_year.get(worst), now, mean))


def _times(row: Fact, original: float, year: int | None, now: int) -> float:
    """Mean over 'original' and 'replaced' of what its age does.

    The likeliest year of a part is that of the likelier of the two; the other has the class's
    stated age of replacements, or the stated first year.
    """
    replaced = float(row["replaced_years"])
    first = now - assumed("first_built")
    if year is None:
        old, new = first, min(first, replaced)
    elif original >= 0.5:
        old, new = float(now - year), min(float(now - year), replaced)
    else:
        old, new = max(first, float(now - year)), float(now - year)
    return original * by_age(row, old) + (1.0 - original) * by_age(row, new)


def by_age(row: Fact, years: float) -> float:
    """Odds at an age over odds at the class's reference age."""
    grown = (max(years, 0.0) / float(row["reference_years"])) ** float(row["shape"])
    return min(max(grown, float(row["least"])), float(row["most"]))


def counted_to(bench: Bench) -> int:
    """The year ages are counted to: of the latest dated reading, else the stated one."""
    dated = [int(r.on[:4]) for r in bench.readings if r.on[:4].isdigit()]
    return max(dated) if dated else max(int(assumed("counted_to")), *bench.parts_year.values(), 0)


def _parts(fault: Fault, row: Fact, bench: Bench) -> list[tuple[str, float]]:
    """Parts of the record that the fault may sit in, with P(original)."""
    record = bench.parts_original
    drawn = {c.part for c in bench.circuit.capacitors if c.use == fault.parts} & record.keys()
    if drawn:
        return [(at, p) for at, p in record.items() if at in drawn]
    patterns = row["parts"].split(";")
    if fault.parts in patterns:
        patterns = [fault.parts, f"{fault.parts}-*"]
    return _matching(record, patterns)


def _matching(record: Mapping[str, float], patterns: list[str]) -> list[tuple[str, float]]:
    return [(at, p) for at, p in record.items() if any(fnmatchcase(at, one) for one in patterns)]


def _says(at: str, original: float, year: int | None, now: int, times: float) -> str:
    what = f"{at} is original with {original:.0%}"
    if year is not None:
        what += f", likeliest of {year}, {max(now - year, 0)} years old"
    way = "likelier" if times >= 1 else "less likely"
    factor = times if times >= 1 else 1 / times
    return f"{what}: {factor:.2g} times {way} than at the class's ordinary age, by assumption."
