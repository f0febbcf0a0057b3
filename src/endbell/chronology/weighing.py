"""The one entry: a dossier, the packs and the assumptions in; the verdict out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .. import __version__
from ..dossier.reading import ReadMarks, read_marks
from ..dossier.types import Dossier, Mark, Part, Problem
from ..marks import MarkReading, Seen, Tables, read_mark
from ..reference.types import Reference
from .allright import conflict_sets
from .assumptions import assumptions_in_force
from .claim import claim_verdict
from .evidence import build, gather
from .factors import PartEvidence, dated_texts, dates_part, factor
from .fit import Fits
from .influence import information, log_surprise, without_mark
from .joint import SLACK, Joint
from .nextcheck import next_checks
from .origins import delivery_verdicts, part_verdicts
from .sets import build_date, density_sets, year_masses
from .setting import Setting
from .stability import Summary, stability
from .units import DatedUnit
from .verdict import AssemblyVerdict, MarkVerdict, ModelOdds, Verdict
from .weeks import week_label
from .words import sentences
from .workspace import Same, Workspace

MOST_MARKS = 400
"""Marks weighed in one dossier; a file with more is cut there, and says so."""


class NothingPossible(ValueError):
    """The marks rule out every week; names what to look at."""


@dataclass(frozen=True, eq=False)
class Posterior:
    """The joint of a dossier with what it was made from."""

    joint: Joint
    evidence: tuple[PartEvidence, ...]
    read: ReadMarks
    problems: tuple[Problem, ...]

    @property
    def setting(self) -> Setting:
        return self.joint.setting


def posterior(
    dossier: Dossier,
    reference: Reference,
    assume: Mapping[str, float] | None = None,
    *,
    models: Sequence[str] | None = None,
    workspace: Workspace | None = None,
    slack: float = SLACK,
) -> Posterior:
    """The joint of model, build week and stock age: the verdict's foundation, and the quick
    part.  ``slack`` 0: no mark will be left out of it.
    """
    ws = workspace or Workspace()
    given = tuple(sorted((assume or {}).items()))
    key = ("assume", Same(reference), given)
    values = ws.get(key, lambda: assumptions_in_force(reference, assume or {}))
    setting = Setting.of(dossier, reference, values, models, ws)
    read = read_marks(dossier, reference, _remembering(setting))
    evidence, problems = _possible(dossier, read, setting)
    joint = Joint(build(evidence, setting), setting, slack=slack)
    return Posterior(joint, evidence, read, problems)


def weigh(
    dossier: Dossier,
    reference: Reference,
    assume: Mapping[str, float] | None = None,
    *,
    models: Sequence[str] | None = None,
    looks: int = 2,
    workspace: Workspace | None = None,
) -> Verdict:
    """Weigh every mark of a dossier together.

    ``assume`` overrides assumptions by name; ``models`` names the rivals (None: all of the packs);
    ``looks``: how far the next checks look ahead (0 none, 1, 2).  Pure: the same arguments give the
    same verdict.  Raises KeyError for an unknown assumption, AssumptionError for one that can't be
    weighed with, NothingPossible when no week is left.
    """
    ws = workspace or Workspace()
    post = posterior(dossier, reference, assume, models=models, workspace=ws)
    joint, evidence, setting = post.joint, post.evidence, post.setting
    if not np.isfinite(joint.log_evidence):
        raise NothingPossible("no week fits all marks at once: look for a mark dated after as_of")
    build_verdict = build_date(joint.by_week, setting.grid)
    parts = part_verdicts(joint, dossier.parts)
    claim = claim_verdict(dossier, joint, parts)
    marks = _mark_verdicts(dossier, post)
    unstable = stability(
        Summary(build_verdict, parts), joint.weeks[joint.active], evidence, setting
    )
    wobbly = {u.what.split(":")[0] for u in unstable}
    parts = tuple(replace(p, stable=p.part not in wobbly) for p in parts)
    checks, says = next_checks(joint, evidence, dossier, marks, looks)
    conflicts = conflict_sets(joint, evidence)
    notes = _notes(dossier, post)
    verdict = Verdict(
        dossier=dossier.id,
        file=dossier.file,
        endbell=__version__,
        as_of=week_label(setting.grid.size - 1),
        packs=reference.packs,
        assumptions=setting.assume,
        build=build_verdict,
        log_evidence=joint.log_evidence,
        models=tuple(
            sorted(
                (
                    ModelOdds(n, float(p))
                    for n, p in zip(setting.names, joint.by_model, strict=True)
                    if n
                ),
                key=lambda m: (-m.p, m.model),
            )
        ),
        parts=parts,
        deliveries=delivery_verdicts(joint),
        assemblies=_assemblies(joint),
        claimed=dossier.claim,
        claim=claim,
        marks=marks,
        conflicts=conflicts,
        stable=not unstable,
        unstable=unstable,
        next=checks,
        next_says=says,
        words=(),
        cautions=tuple(
            reference.cautions[level] for level in reference.levels if level in reference.cautions
        ),
        not_weighed=(*dossier.problems, *post.problems),
        notes=notes,
    )
    return replace(verdict, words=sentences(verdict, reference))


def _remembering(setting: Setting) -> Callable[[Seen, Tables], MarkReading]:
    """The readers, each text read once in a workspace."""
    identity = Same(setting.reference)
    return lambda seen, tables: setting.workspace.get(
        ("read", seen, identity), lambda: read_mark(seen, tables)
    )


def _possible(
    dossier: Dossier, read: ReadMarks, setting: Setting
) -> tuple[tuple[PartEvidence, ...], tuple[Problem, ...]]:
    """The evidence without marks that no week up to as_of allows, and the problems they make."""
    problems = list(read.problems)
    weighed = list(read.read)
    if len(weighed) > MOST_MARKS:
        problems.extend(
            _problem(dossier, mark, f"mark {mark.n}", f"at most {MOST_MARKS} marks in one dossier")
            for mark, _ in weighed[MOST_MARKS:]
        )
        weighed = weighed[:MOST_MARKS]
    parts = _all_parts(dossier, read)
    accepted = "dates before the dossier's as_of, and on one part one date"
    while True:
        evidence = gather(parts, weighed, dossier.repairs)
        bad = _impossible(evidence, setting)
        if not bad:
            return evidence, tuple(problems)
        problems.extend(
            _problem(dossier, mark, f"{mark.text!r} on {mark.part}: {bad[mark.n]}", accepted)
            for mark, _ in weighed
            if mark.n in bad
        )
        weighed = [r for r in weighed if r[0].n not in bad]


def _impossible(evidence: Sequence[PartEvidence], setting: Setting) -> dict[int, str]:
    """Marks that rule out every week, alone or against another on their part, and why."""
    last = week_label(setting.grid.size - 1)
    bad: dict[int, str] = {}
    for e in evidence:
        dating = [(m, r) for m, r in e.read if dates_part(m, r, e.part, setting)]
        possible = not dating or bool(dated_texts(e, setting))
        alone = [
            m.n
            for m, r in dating
            if not possible and not dated_texts(replace(e, read=((m, r),)), setting)
        ]
        for mark, reading in e.read:
            found = factor(mark, reading, e.part, setting)
            if found is not None and not any(a.any() for a in found):
                alone.append(mark.n)
        bad.update(dict.fromkeys(alone, f"no date up to {last} fits"))
        # no order among them: all dates on one part that can't stand together are left out
        if not possible and not alone:
            numbers = " and ".join(str(m.n) for m, _ in dating)
            bad.update(
                {m.n: f"the dates of marks {numbers} contradict each other" for m, _ in dating}
            )
    return bad


def _problem(dossier: Dossier, mark: Mark, found: str, accepted: str) -> Problem:
    return Problem(dossier.file, mark.n, mark.line or None, found, accepted)


def _all_parts(dossier: Dossier, read: ReadMarks) -> tuple[Part, ...]:
    known = {p.id for p in dossier.parts}
    missing = dict.fromkeys(m.part for m, _ in read.read if m.part not in known)
    return (*dossier.parts, *(Part(p, "other", "chassis") for p in missing))


def _mark_verdicts(dossier: Dossier, post: Posterior) -> tuple[MarkVerdict, ...]:
    joint = post.joint
    fits = Fits(joint, post.evidence)
    weighed = {m.n: (m, r) for e in post.evidence for m, r in e.read}
    out: list[MarkVerdict] = []
    for mark in dossier.marks:
        pair = weighed.get(mark.n)
        if pair is None:
            out.append(MarkVerdict(mark, (), 0.0, None, weighed=False))
            continue
        if pair[1].dating == "nothing":
            out.append(MarkVerdict(mark, (), 0.0, None))
            continue
        other, change = without_mark(joint, post.evidence, mark.n)
        fit = fits.of(*pair, log_surprise(joint, post.evidence, mark.n, change))
        out.append(MarkVerdict(mark, fit.readings, information(joint.by_week, other), fit.conflict))
    return tuple(out)


def _assemblies(joint: Joint) -> tuple[AssemblyVerdict, ...]:
    out: list[AssemblyVerdict] = []
    for assembly in joint.marriages:
        p = joint.donor_by_week(assembly)
        years = {y: v for y, v in year_masses(p, joint.setting.grid).items() if v >= 0.0005}
        out.append(AssemblyVerdict(assembly, joint.married(assembly), years, density_sets(p)))
    return tuple(out)


def _notes(dossier: Dossier, post: Posterior) -> tuple[str, ...]:
    notes: list[str] = []
    if dossier.as_of_from != "file":
        notes.append(f"as_of is {dossier.as_of.isoformat()}, taken from the {dossier.as_of_from}")
    if post.setting.made_elsewhen:
        notes.append(
            "no model of the packs in force was made in the years given under [known] made: check "
            "those years, or which pack this amp belongs to"
        )
    if not any(post.setting.names):
        notes.append(
            "no pack in force describes a model: only what holds for any valve amp was weighed"
        )
    groups = [(u.assembly, u.part_class) for u in post.joint.units if isinstance(u, DatedUnit)]
    if len(set(groups)) < len(groups):
        notes.append("a class with more than 6 different codes was weighed in more than one group")
    return tuple(notes)
