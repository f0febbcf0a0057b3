"""A small slice of the whole calibration: few dossiers, fixed seeds, and the worlds that show most.

What is selected is selected by what a dossier holds, never by the truth beside it: a posterior that
is right stays right on any such selection.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from endbell.chronology import Workspace
from endbell.dossier import Dossier
from endbell.learning.calibration import Drawing, Figures, Job, Records, figures, years_made
from endbell.reference import Reference, load_reference

AS_OF = date(2026, 1, 1)
SEED = 11

MOST_ERRORS = 4.5
LEAST_RANK_P = 1e-4
STATEMENTS = ("original", "later", "period", "married", "claim")


@dataclass(frozen=True)
class World:
    """A kind of dossier that shows some faults best. ``parts``: the only ones looked at, and only
    for their codes; none: everything.
    """

    n: int
    packs: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    scenario: str = "as-stated"
    chosen: Callable[[Dossier], bool] = lambda dossier: True

    @property
    def job(self) -> Job:
        return Job(self.packs, self.scenario, SEED, AS_OF)

    def reference(self) -> Reference:
        found, _ = load_reference(self.packs)
        if not self.parts:
            return found
        usual = {key: u for key, u in found.usual_ids.items() if key in self.parts}
        classes = {u.part_class for u in usual.values()}
        checks = [c for c in found.checks if c.part_class in classes]
        codes = tuple(c for c in checks if c.kind == "source-date-code")
        return replace(found, usual_ids=usual, checks=codes)


def several_pots(dossier: Dossier) -> bool:
    """Whether three pots or four can be read."""
    return sum(mark.part.startswith("pot") for mark in dossier.marks) >= 3


ANY_AMP = World(120)
BRACKWATER = World(100, packs=("brackwater",))
POTS = World(100, parts=("pot",), chosen=several_pots)
ONE_CODE = World(400, parts=("ot",))


def weighed(
    world: World,
    assume: Mapping[str, float] | None = None,
    believed: Reference | None = None,
    stated: Records | None = None,
) -> tuple[Figures, Records]:
    """The figures of a world; ``assume``, ``believed``: what the engine is made to believe;
    ``stated``: records that the plain rules learn from, its own by default.
    """
    reference = world.reference()
    drawing = Drawing(
        world.job, reference, Workspace(), weighed_with=assume, reference_weighed=believed
    )
    records, i = [], 0
    while len(records) < world.n:
        if world.chosen(drawing.drawn(i)[0]):
            records.append(drawing.record(i))
        i += 1
    found = Records.of(records)
    return figures(found, stated or found, years_made(reference, AS_OF)), found


def broken(found: Figures) -> dict[str, float]:
    """The figures beyond what chance explains: empty for a sound engine."""
    out = {f"{level} sets": c.z for level, c in found.sets.items()}
    out |= {f"P({kind})": found.reliability[kind].z for kind in STATEMENTS}
    out |= {f"{decade}s": z for decade, z in found.decades.items()}
    out = {name: z for name, z in out.items() if abs(z) > MOST_ERRORS}
    if found.rank.p_value < LEAST_RANK_P:
        out["ranks"] = found.rank.p_value
    return out
