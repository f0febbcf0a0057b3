"""Verdicts as lines for the screens: the report's own words and drawings, made in the worker."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

from ..chronology import Brief, Verdict, as_json
from ..chronology.nextcheck import best_of
from ..chronology.verdict import ClaimVerdict, MarkVerdict, NextCheck
from ..dossier.types import Claim, Mark
from ..reference.types import Reference
from ..report import strip_svg, timeline_svg
from ..report.fitted import windows, windows_words
from ..report.markup import visible
from ..report.numbers import bits, minutes, percent
from ..report.opening import facts
from ..report.timeline import BESIDE
from ..report.wording import (
    LEVELS,
    RESULTS,
    SLIGHT,
    beside,
    conflict_words,
    headline,
    kind_words,
    origin_words,
    pieces,
    reading_words,
    sentence_case,
    title_of_class,
    title_of_model,
    verbatim,
    weighty,
)
from .weighed import CheckLine, MarkLine, PartLine, Strip, Weighed, Would, packed

READINGS_SHOWN = 6


def strip_lines(
    found: Brief | Verdict, claimed: Claim, reference: Reference, made_by: str
) -> Strip:
    """The strip of a verdict, in brief or in full: both give the same.

    But for the conflicts, which a brief one may have left uncounted.
    """
    verdict = cast("Verdict", found)  # what is read here, a Brief has too
    build = found.build
    said = headline(verdict, reference)
    stretches = pieces(verdict)
    years = [int(piece.years[:4]) for piece in stretches]
    best = max(found.models, key=lambda m: m.p) if found.models else None
    claim = found.claim
    return Strip(
        says=said.text,
        sure=said.sure,
        beside=beside(verdict),
        mode=build.mode,
        mode_year=build.mode_year,
        p_mode_year=build.p_mode_year,
        first_year=min(years, default=None),
        last_year=max((_last_year(run[1]) for run in build.sets.get("0.95", ())), default=None),
        years=tuple(sorted((y, float(p)) for y, p in build.years.items())),
        sets={level: [list(run) for run in runs] for level, runs in build.sets.items()},
        model=title_of_model(reference, best.model) if best else "",
        model_p=best.p if best else None,
        claim=_claim_words(claim, claimed),
        claim_p=claim.p if claim else None,
        weakest=(claim.weakest or "") if claim else "",
        parts={p.part: (p.word, p.original) for p in found.parts},
        weighed=found.weighed if isinstance(found, Brief) else sum(m.weighed for m in found.marks),
        not_weighed=len(found.not_weighed),
        conflicts=found.conflicts if isinstance(found, Brief) else len(found.conflicts),
        svg=strip_svg(verdict, prefix="strip"),
        made_by=made_by,
    )


def verdict_lines(
    verdict: Verdict,
    reference: Reference,
    strip: Strip,
    *,
    checks: tuple[Sequence[NextCheck], str],
    would: tuple[Would, ...] = (),
) -> Weighed:
    """Everything that the pages show of a verdict.  ``checks``: those to offer, and a sentence."""
    claim = verdict.claim
    return Weighed(
        strip=strip,
        packed=packed(as_json(verdict)),
        wide=timeline_svg(verdict, reference, prefix="tw", layout=BESIDE),
        narrow=timeline_svg(verdict, reference, narrow=True, prefix="tn"),
        words=tuple((s.text, tuple(s.marks)) for s in verdict.words),
        conflicts=tuple(
            (c.says, tuple(c.marks), percent(c.p_all_right)) for c in verdict.conflicts
        ),
        marks=_mark_lines(verdict, reference),
        parts=_part_lines(verdict, reference),
        clauses=_clauses(claim),
        not_looked_at=claim.not_looked_at if claim else (),
        stable=verdict.stable,
        unstable=tuple((u.assumption, f"× {u.factor:g}", u.what) for u in verdict.unstable),
        would=would,
        next=_check_lines(checks[0], reference),
        next_says=checks[1],
        cautions=dict(reference.cautions),
        levels=tuple((level, LEVELS.get(level, level)) for level in reference.levels),
        not_weighed=tuple(
            (
                p.table if p.header == "mark" else None,
                visible(p.found),
                visible(p.accepted)
                + (f" (nearest: {visible(', '.join(p.nearest))})" if p.nearest else ""),
            )
            for p in verdict.not_weighed
        ),
        notes=tuple(
            n.replace("the command day", "the day of its last change") for n in verdict.notes
        ),
        facts=tuple(facts(verdict, reference)),
    )


def _claim_words(claim: ClaimVerdict | None, claimed: Claim) -> str:
    if claim is None or claimed == Claim(by=claimed.by):
        return ""
    return "can't be judged" if claim.p is None else f"holds with {percent(claim.p)}"


def _clauses(claim: ClaimVerdict | None) -> tuple[tuple[str, str, bool], ...]:
    if claim is None:
        return ()
    return tuple(
        (c.clause, "can't be judged" if c.p is None else percent(c.p), c.clause == claim.weakest)
        for c in claim.clauses
    )


def _last_year(week: str) -> int:
    return int(week[:4])


def _mark_lines(verdict: Verdict, reference: Reference) -> tuple[MarkLine, ...]:
    """Every mark of the verdict; those that could not even be read as a mark are in not_weighed."""
    classes = {p.part: p.part_class for p in verdict.parts}
    odd = {n for c in verdict.conflicts for n in c.marks}
    problems = {p.table: p for p in verdict.not_weighed if p.header == "mark"}
    out: list[MarkLine] = []
    for m in verdict.marks:
        mark = m.mark
        problem = problems.get(mark.n)
        out.append(
            MarkLine(
                n=mark.n,
                part=mark.part,
                title=sentence_case(title_of_class(reference, classes.get(mark.part, mark.part))),
                typed=typed_words(mark),
                kind=kind_words(mark),
                legibility=mark.legibility,
                result=RESULTS.get(mark.result, ""),
                readings=_readings(m, verdict, reference),
                influence_bits=m.influence_bits,
                influence=bits(m.influence_bits) if m.weighed else "nothing",
                conflict=m.conflict,
                fit=conflict_words(m),
                odd=mark.n in odd,
                weighed=m.weighed,
                problem=""
                if problem is None
                else f"{visible(problem.found)}; accepted: {visible(problem.accepted)}",
            )
        )
    return tuple(out)


def typed_words(mark: Mark) -> str:
    """What was typed, or the date of a paper, or what was found where nothing was to be read."""
    return visible(verbatim(mark)) or mark.date or RESULTS.get(mark.result, kind_words(mark))


def _readings(m: MarkVerdict, verdict: Verdict, reference: Reference) -> tuple[str, ...]:
    """What a mark can mean, the weightiest first: as the report has it, a little shorter."""
    if not m.weighed:
        return ()
    fitted = windows_words(windows(m, verdict, reference))
    if fitted:
        return (fitted,)
    found, rest = weighty(m, READINGS_SHOWN)
    said = [f"{reading_words(r)}: {percent(r.p)}" for r in found]
    if rest:
        said.append(f"{len(rest)} more: {percent(sum(r.p for r in rest))} in all")
    left = 1 - sum(r.p for r in m.readings)
    if m.readings and left >= SLIGHT:
        said.append(f"others, too many to list: {percent(left)}")
    return tuple(said)


def _part_lines(verdict: Verdict, reference: Reference) -> tuple[PartLine, ...]:
    return tuple(
        PartLine(
            part=p.part,
            title=sentence_case(title_of_class(reference, p.part_class)),
            assembly=p.assembly,
            word=p.word,
            says=origin_words(p),
            original=p.original,
            period=p.period_replacement,
            later=p.later_replacement,
            stable=p.stable,
        )
        for p in verdict.parts
    )


def _check_lines(checks: Sequence[NextCheck], reference: Reference) -> tuple[CheckLine, ...]:
    best = best_of(checks) if checks else None
    legible = {check.id: check.legible for check in reference.checks}
    classes = _classes(reference)
    out: list[CheckLine] = []
    for c in checks:
        then = ""
        if c.then and c.then_bits is not None:
            then = f"with a second look after it ({c.then}): {bits(c.then_bits)}"
        chance = legible.get(c.check)
        out.append(
            CheckLine(
                check=c.check,
                part=c.part,
                title=sentence_case(c.title),
                part_title=title_of_class(reference, classes.get(c.part, c.part)),
                level=c.level,
                level_words=LEVELS.get(c.level, c.level),
                minutes=minutes(c.minutes),
                setup=minutes(c.setup_minutes) if c.setup_minutes else "",
                gain=bits(c.gain_bits),
                settles=c.settles,
                then=then,
                chance="" if chance is None else f"it can be read in {percent(chance)} of looks",
                worth=c.gain_bits / (c.minutes + c.setup_minutes),
                best=c is best,
            )
        )
    return tuple(out)


def _classes(reference: Reference) -> dict[str, str]:
    """Part id -> class, of every part that a model is known to have and of the usual ids."""
    out: dict[str, Any] = {name: usual.part_class for name, usual in reference.usual_ids.items()}
    for model in reference.models:
        out.update({part.id: part.part_class for part in model.expected})
    return out
