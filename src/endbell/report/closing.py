"""The end of the page: next checks, rows not weighed, cautions, and the appendix."""

from __future__ import annotations

from ..chronology.verdict import NextCheck, Verdict
from ..dossier.types import Dossier
from ..reference.types import Reference
from .blocks import bullets, section, table
from .markup import Child, Safe, el, join, visible
from .numbers import bits, figure, minutes
from .wording import LEVELS, NOT_SEEN, by_level, sentence_case


def next_checks(verdict: Verdict, reference: Reference) -> Safe:
    """What is worth looking at now, by how far the amp has to be opened.

    The caution of a level stands before its steps; a check's own caution, if it has another one,
    before the check.
    """
    says = el("p", verdict.next_says) if verdict.next_says else None
    if not verdict.next and says is None:
        says = el("p", "No check is known that is worth its minutes.")
    groups: list[Safe] = []
    for level, checks in by_level(verdict.next):
        caution = reference.cautions.get(level, "")
        groups.append(el("h3", sentence_case(LEVELS.get(level, level))))
        if caution:
            groups.append(el("p", el("strong", "Caution: "), caution, cls="caution"))
        groups.append(el("ol", *(_check(check, caution) for check in checks), cls="checks"))
    return section("next", "What to look at next", says, *groups)


def _check(check: NextCheck, said_before: str) -> Safe:
    caution = check.caution if check.caution != said_before else ""
    gain = f"Expected to settle {bits(check.gain_bits)}"
    then = ""
    if check.then and check.then_bits is not None:
        then = f" With a second look after it ({check.then}): {bits(check.then_bits)}."
    settles = f"{gain}: {check.settles}." if check.settles else f"{gain}."
    return el(
        "li",
        el("p", el("strong", "Caution: "), caution, cls="caution") if caution else None,
        el(
            "p",
            el("strong", sentence_case(check.title)),
            f" ({check.part}): {minutes(check.minutes)}.",
        ),
        el("p", f"{settles}{then}", cls="small"),
    )


def not_weighed(verdict: Verdict) -> Safe:
    """Rows that were kept but not weighed: where, what was found, what would be accepted."""
    if not verdict.not_weighed:
        return section("not-weighed", "Not weighed", el("p", "Every row was weighed."))
    rows: list[list[Child]] = []
    for p in verdict.not_weighed:
        table_number = "" if p.table is None else f" {p.table}"
        line = "not known" if p.line is None else str(p.line)
        nearest = f" (nearest: {', '.join(p.nearest)})" if p.nearest else ""
        rows.append(
            [
                f"[[{p.header}]]{table_number}",
                p.file or "typed",
                line,
                visible(p.found),
                f"{visible(p.accepted)}{nearest}",
            ]
        )
    heads = ["Row", "File", "Line", "Found", "Accepted"]
    return section(
        "not-weighed",
        "Not weighed",
        table("Rows kept but not weighed", heads, rows),
        note="These rows stay in the dossier. They count for nothing until they are put right.",
    )


def cautions(verdict: Verdict) -> Safe | None:
    """Cautions and remarks on this verdict."""
    if not verdict.cautions and not verdict.notes:
        return None
    return section(
        "cautions",
        "Cautions and remarks",
        *(el("p", c, cls="caution") for c in verdict.cautions),
        bullets(list(verdict.notes)) if verdict.notes else None,
    )


def appendix(verdict: Verdict, reference: Reference, dossier: Dossier) -> Safe:
    """What the verdict rests on: assumptions, packs, and what the model can't see."""
    rows: list[list[Child]] = []
    for name, value in sorted(verdict.assumptions.items()):
        known = reference.assumptions.get(name)
        if known is None:
            rows.append([_name(name), figure(value), "", "given with the command", ""])
            continue
        changed = (
            None
            if figure(known.value) == figure(value)
            else f" (the packs say {figure(known.value)})"
        )
        words = el("div", known.words, cls="small") if known.words else None
        rows.append(
            [
                join(_name(name), words),
                join(figure(value), changed),
                known.unit,
                known.source,
                known.confidence,
            ]
        )
    heads = ["Assumption", "Value", "Unit", "Source", "Confidence"]
    packs: list[list[Child]] = [
        [p.id, p.version, el("code", p.sha256, cls="sha")] for p in verdict.packs
    ]
    made = [
        f"Weighed as of {verdict.as_of} ({dossier.as_of_from})",
        f"with Endbell {verdict.endbell}",
    ]
    return el(
        "section",
        el("h2", "Appendix: what this rests on", id="appendix-h"),
        el("h3", "What the model can't see"),
        bullets(list(NOT_SEEN)),
        el("h3", "Reference packs"),
        table("Packs in force", ["Pack", "Version", "SHA-256"], packs),
        el(
            "p",
            f"{', '.join(made)}. Same dossier, packs and assumptions: same verdict.",
            cls="small",
        ),
        el("h3", "Assumptions in force"),
        table("Every number that was taken for granted", heads, rows, cls="assumptions"),
        id="appendix",
        aria_labelledby="appendix-h",
    )


def _name(name: str) -> Safe:
    """An assumption's name that may break after its dots."""
    pieces = name.split(".")
    return el(
        "code",
        *(
            join(p, "." if i < len(pieces) - 1 else None, Safe("<wbr>"))
            for i, p in enumerate(pieces)
        ),
    )
