"""The verdict for a terminal: the same words and time line, in characters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..chronology.verdict import MarkVerdict, Verdict
from ..reference.types import Reference
from . import chart
from .numbers import bits, figure, listed, minutes, percent, week_words
from .opening import claim_words, facts
from .pen import Line, Pen
from .wording import (
    LEVELS,
    RESULTS,
    SIGNS,
    SLIGHT,
    beside,
    by_level,
    conflict_words,
    headline,
    kind_words,
    marks_said,
    reading_words,
    sentence_case,
    title_of_class,
    verbatim,
    weighty,
)

if TYPE_CHECKING:
    from rich.text import Text

NARROWEST = 40

CHECKS_SHOWN = 3
"""Next checks listed for a level; the page lists all."""

CLAUSES_SHOWN = 6
"""Clauses of the claim listed, the weakest; the page lists all."""

STYLES = {"": "", "strong": "bold", "soft": "dim", "head": "bold underline", "warn": "bold yellow"}
"""Style of a piece -> how rich shows it."""


def terminal(
    verdict: Verdict, reference: Reference | None = None, *, width: int = 100, unicode: bool = True
) -> str:
    """The verdict as plain text, no line wider than ``width`` columns (40 at least).

    ``unicode`` False: nothing but ASCII.
    """
    return _written(verdict, reference, width, unicode).text()


def terminal_renderables(
    verdict: Verdict, reference: Reference | None = None, *, width: int = 100, unicode: bool = True
) -> list[Text]:
    """The same lines with styles, for a rich console; marked-up texts are never interpreted."""
    from rich.text import Text

    def styled(line: Line) -> Text:
        return Text.assemble(
            *((piece, STYLES[style]) for piece, style in line), no_wrap=True, overflow="ignore"
        )

    return [styled(line) for line in _written(verdict, reference, width, unicode).lines]


def _written(verdict: Verdict, reference: Reference | None, width: int, unicode: bool) -> Pen:
    pen = Pen(max(width, NARROWEST), unicode)
    _strip(pen, verdict, reference)
    _sentences(pen, verdict)
    pen.head("Time line")
    chart.draw(pen, verdict, reference)
    _parts(pen, verdict, reference)
    _claim(pen, verdict, reference)
    _marks(pen, verdict)
    _conflicts(pen, verdict)
    _next(pen, verdict, reference)
    _not_weighed(pen, verdict)
    _cautions(pen, verdict, reference)
    return pen


def _strip(pen: Pen, verdict: Verdict, reference: Reference | None) -> None:
    pen.say(f"{verdict.dossier} · as of {week_words(verdict.as_of)}", style="soft")
    pen.say(headline(verdict, reference).text, style="strong")
    pen.say(beside(verdict))
    pen.blank()
    for name, said in facts(verdict, reference):
        pen.say(said, first=f"{name:<18}", indent=18)


def _sentences(pen: Pen, verdict: Verdict) -> None:
    pen.head("What the marks say")
    if not verdict.words:
        pen.say("Nothing is said: no mark was weighed.")
    for i, sentence in enumerate(verdict.words, start=1):
        rests = f" ({marks_said(sentence.marks)})" if sentence.marks else ""
        pen.say(f"{sentence.text}{rests}", first=f"{i:>2}. ", indent=4)


def _parts(pen: Pen, verdict: Verdict, reference: Reference | None) -> None:
    pen.head("Parts")
    if not verdict.parts:
        pen.say("No part is recorded.")
        return
    origins = pen.width >= 72
    names, word, number = (14, 19, 13) if origins else (10, 18, 10)
    title = pen.width - 2 - names - word - 3 * number
    title = title if title >= 14 and origins else 0
    if origins:
        heads = "".join(h.ljust(number) for h in ("original", "later", "in period"))
        pen.put((" " * (2 + names + title + word) + heads, "soft"))
    for p in verdict.parts:
        sign = SIGNS.get(p.word, ("◇", "?"))[0 if pen.unicode else 1]
        class_title = title_of_class(reference, p.part_class)
        shown = (p.original, p.later_replacement, p.period_replacement)[: 3 if origins else 1]
        pen.put(
            (f"{sign} {pen.padded(p.part, names - 1)} ", "strong"),
            (pen.padded(class_title, title - 1) + " " if title else "", ""),
            (p.word.ljust(word) + "".join(percent(x).ljust(number) for x in shown), ""),
        )
        if not p.stable:
            said = "its word changes when an assumption is halved or doubled"
            pen.say(said, first="    ", indent=4, style="soft")


def _claim(pen: Pen, verdict: Verdict, reference: Reference | None) -> None:
    pen.head("The claim")
    pen.say(claim_words(verdict.claimed, reference))
    claim = verdict.claim
    if claim is None:
        pen.say("There is no claim to judge.")
        return
    whole = (
        "The whole can't be judged."
        if claim.p is None
        else f"The whole holds with {percent(claim.p)}."
    )
    pen.say(f"{whole} Weakest: {claim.weakest}." if claim.weakest else whole)
    ranked = sorted(claim.clauses, key=lambda c: -1.0 if c.p is None else c.p)
    kept = ranked if len(ranked) <= CLAUSES_SHOWN else ranked[: CLAUSES_SHOWN - 1]
    for clause in kept:
        said = "can't be judged" if clause.p is None else percent(clause.p)
        pen.say(f"{clause.clause}: {said}", first="  - ", indent=4)
    if rest := ranked[len(kept) :]:
        pen.say(f"{len(rest)} more, each at least {percent(rest[0].p)}", first="  - ", indent=4)
    if claim.not_looked_at:
        pen.say(f"Not looked at, and so not counted as original: {listed(claim.not_looked_at)}.")
    if claim.unjudged:
        pen.say(f"Not judged: {listed(claim.unjudged)}.")


def _marks(pen: Pen, verdict: Verdict) -> None:
    pen.head("Marks, as typed")
    if not verdict.marks:
        pen.say("No mark is recorded.")
    for m in verdict.marks:
        said = verbatim(m.mark) or kind_words(m.mark)
        pen.say(said, first=f"{m.mark.n:>4} ", indent=5, style="strong")
        pen.say(_about(m), first=" " * 5, indent=5, style="soft")


def _about(m: MarkVerdict) -> str:
    mark = m.mark
    how = [mark.part, kind_words(mark)]
    if mark.legibility != "clear":
        how.append(mark.legibility)
    if mark.result in RESULTS:
        how.append(RESULTS[mark.result])
    found, rest = weighty(m, 3)
    best = "; ".join(f"{reading_words(r)}, {percent(r.p)}" for r in found)
    left = 1 - sum(r.p for r in found)
    more = f"; others, {percent(left)} in all" if found and (rest or left >= SLIGHT) else ""
    if not m.weighed:
        return f"{', '.join(how)}: not weighed"
    fit = f"moved the date by {bits(m.influence_bits)}, fit {conflict_words(m)}"
    return f"{', '.join(how)}: {best}{more}; {fit}" if best else f"{', '.join(how)}: {fit}"


def _conflicts(pen: Pen, verdict: Verdict) -> None:
    if not verdict.conflicts and verdict.stable:
        return
    pen.head("Conflicts and stability")
    for c in verdict.conflicts:
        said = f"{c.says} All right and original: {percent(c.p_all_right)} ({marks_said(c.marks)})."
        pen.say(said, first="  - ", indent=4)
    for u in verdict.unstable:
        pen.say(f"{u.assumption} × {figure(u.factor)}: {u.what}", first="  - ", indent=4)


def _next(pen: Pen, verdict: Verdict, reference: Reference | None) -> None:
    pen.head("What to look at next")
    if verdict.next_says or not verdict.next:
        pen.say(verdict.next_says or "No check is known that is worth its minutes.")
    cautions = reference.cautions if reference is not None else {}
    for level, checks in by_level(verdict.next):
        pen.say(sentence_case(LEVELS.get(level, level)), style="strong")
        before = cautions.get(level, "")
        if before:
            pen.say(f"Caution: {before}", first="  ! ", indent=4, style="warn")
        for check in checks[:CHECKS_SHOWN]:
            if check.caution and check.caution != before:
                pen.say(f"Caution: {check.caution}", first="  ! ", indent=4, style="warn")
            what = f"{sentence_case(check.title)} ({check.part}): {minutes(check.minutes)}"
            settles = f" to settle {check.settles}" if check.settles else ""
            pen.say(f"{what}, {bits(check.gain_bits)} expected{settles}", first="  - ", indent=4)
        if len(checks) > CHECKS_SHOWN:
            pen.say(f"and {len(checks) - CHECKS_SHOWN} more", first="    ", indent=4, style="soft")


def _not_weighed(pen: Pen, verdict: Verdict) -> None:
    if not verdict.not_weighed:
        return
    pen.head("Not weighed")
    for p in verdict.not_weighed:
        number = "" if p.table is None else f" {p.table}"
        line = "" if p.line is None else f", line {p.line}"
        nearest = f" (nearest: {', '.join(p.nearest)})" if p.nearest else ""
        pen.say(f"{p.file or 'typed'}{line}, [[{p.header}]]{number}", first="  - ", indent=4)
        pen.say(
            f"found {p.found}; accepted: {p.accepted}{nearest}",
            first="    ",
            indent=4,
            style="soft",
        )


def _cautions(pen: Pen, verdict: Verdict, reference: Reference | None) -> None:
    """Cautions that did not already stand with a step, and remarks."""
    known = reference.cautions if reference is not None else {}
    said = {c for n in verdict.next for c in (n.caution, known.get(n.level, ""))}
    cautions = [c for c in verdict.cautions if c not in said]
    if not cautions and not verdict.notes:
        return
    pen.head("Cautions and remarks")
    for caution in cautions:
        pen.say(caution, first="  ! ", indent=4, style="warn")
    for note in verdict.notes:
        pen.say(note, first="  - ", indent=4)
