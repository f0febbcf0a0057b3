"""Sections of the page: claim, parts, marks, deliveries, assemblies, conflicts, stability."""

from __future__ import annotations

from ..chronology.verdict import MarkVerdict, Verdict
from ..reference.types import Reference
from .blocks import bullets, mark_links, section, table, typed
from .fitted import windows, windows_words
from .markup import Child, Safe, el, join, visible
from .numbers import bits, day_words, index_of, listed, percent, span_words
from .opening import claim_words, sign_of
from .wording import (
    RESULTS,
    SLIGHT,
    conflict_words,
    kind_words,
    reading_words,
    title_of_class,
    weighty,
)

READINGS_SHOWN = 8
"""Readings listed for a mark; the rest are counted with their weight."""


def claim(verdict: Verdict, reference: Reference) -> Safe:
    """Clause by clause, the weakest named; what was not looked at is never counted as original."""
    said = el("p", claim_words(verdict.claimed, reference))
    judged = verdict.claim
    if judged is None:
        return section("claim", "The claim", said, el("p", "There is no claim to judge."))
    whole = (
        "The claim as a whole can't be judged."
        if judged.p is None
        else (f"The claim as a whole holds with {percent(judged.p)}.")
    )
    weakest = f" Its weakest clause: {judged.weakest}." if judged.weakest else ""
    rows: list[list[Child]] = [
        [
            c.clause,
            "can't be judged" if c.p is None else figure(c.p),
            "weakest" if c.clause == judged.weakest else "",
        ]
        for c in judged.clauses
    ]
    missing = None
    if judged.not_looked_at:
        missing = el(
            "p",
            "Claimed or expected, but not looked at, and so not counted as original: ",
            el("strong", listed(judged.not_looked_at)),
            ".",
        )
    unjudged = el("p", f"Not judged: {listed(judged.unjudged)}.") if judged.unjudged else None
    body = (
        table("Clauses of the claim", ["Clause", "Holds", "Remark"], rows, cls="pairs")
        if rows
        else None
    )
    return section(
        "claim", "The claim", said, el("p", f"{whole}{weakest}"), body, missing, unjudged
    )


def parts(verdict: Verdict, reference: Reference) -> Safe:
    """Every part with the probability of each origin and the word for it."""
    rows: list[list[Child]] = [
        [
            el("bdi", visible(p.part)),
            title_of_class(reference, p.part_class),
            join(
                sign_of(p.word), " ", p.word, "" if p.stable else " (does not stand, see stability)"
            ),
            figure(p.original),
            figure(p.later_replacement),
            figure(p.period_replacement),
        ]
        for p in verdict.parts
    ]
    if not rows:
        return section("parts", "Parts", el("p", "No part is recorded."))
    heads = ["Part", "Class", "Word", "Original", "Later", "In period"]
    return section(
        "parts",
        "Parts",
        table("Origin of each part", heads, rows, cls="figures parts"),
        note=(
            "Original: fitted to this amp when it left the factory. Later: replaced in a service "
            "since then. In period: replaced by one chosen to match."
        ),
    )


def marks(verdict: Verdict, reference: Reference) -> Safe:
    """Every mark as it was typed, what it can mean, what it did, how it fits."""
    rows: list[list[Child]] = []
    attributes: list[dict[str, str]] = []
    for m in verdict.marks:
        fitted = windows_words(windows(m, verdict, reference))
        rows.append([str(m.mark.n), _where(m), _seen(m), _readings(m, fitted), _did(m), _fit(m)])
        attributes.append({"id": f"mark-{m.mark.n}", "cls": f"m{m.mark.n}", "tabindex": "-1"})
    if not rows:
        return section("marks", "Marks", el("p", "No mark is recorded."))
    heads = ["Mark", "Where", "As seen", "Can mean", "Moved the date by", "Fit"]
    return section(
        "marks",
        "Marks",
        table("Every mark, kept as typed", heads, rows, row_attributes=attributes, cls="marks"),
        note=(
            "Underlined: groups with a character that is not certain. Fit: how likely something "
            "no more likely than this mark was, given all the others; small is surprising."
        ),
    )


def _where(m: MarkVerdict) -> Safe:
    mark = m.mark
    seen = [f"seen by {mark.by}" if mark.by else "", day_words(mark.on) if mark.on else ""]
    small = [mark.place, ", ".join(s for s in seen if s), *mark.photos, mark.note]
    return join(
        el("bdi", visible(mark.part)), *(el("div", el("bdi", s), cls="small") for s in small if s)
    )


def _seen(m: MarkVerdict) -> Safe:
    mark = m.mark
    how = (
        kind_words(mark) if mark.legibility == "clear" else f"{kind_words(mark)}, {mark.legibility}"
    )
    result = RESULTS.get(mark.result)
    dated = f"dated {mark.date}" if mark.date else ""
    return join(
        typed(m) if mark.text or mark.value is not None else None,
        *(el("div", s, cls="small") for s in (how, dated, result) if s),
    )


def _readings(m: MarkVerdict, fitted: str) -> Child:
    if not m.weighed:
        return "not weighed"
    found, rest = weighty(m, READINGS_SHOWN)
    items: list[Child] = [
        join(
            reading_words(r),
            ": ",
            figure(r.p),
            el("span", f" ({', '.join(r.flags)})", cls="small") if r.flags else None,
        )
        for r in found
        if not fitted
    ]
    if fitted:
        items.append(fitted)
    if rest and not fitted:
        items.append(f"{len(rest)} more: {percent(sum(r.p for r in rest))} in all")
    left = 1 - sum(r.p for r in m.readings)
    if m.readings and left >= SLIGHT and not fitted:
        items.append(f"others, too many to list: {percent(left)}")
    return bullets(items, cls="plain") if items else "no date of its own"


def _did(m: MarkVerdict) -> Safe:
    return el("span", bits(m.influence_bits) if m.weighed else "nothing", cls="figure")


def _fit(m: MarkVerdict) -> Safe:
    return el("span", conflict_words(m), cls="figure")


def figure(p: float) -> Safe:
    """A probability in a table: never broken over two lines."""
    return el("span", percent(p), cls="figure")


def deliveries(verdict: Verdict) -> Safe:
    """Parts that came together: not independent evidence."""
    rows: list[list[Child]] = [
        [listed(d.parts), figure(d.together), figure(d.all_original)] for d in verdict.deliveries
    ]
    body = el("p", "No two parts were found to have come together.")
    if rows:
        body = table("Deliveries", ["Parts", "Came together", "All original"], rows, cls="figures")
    return section(
        "deliveries",
        "Deliveries",
        body,
        note="Parts that were delivered together are one witness, not several.",
    )


def assemblies(verdict: Verdict) -> Safe:
    """Whether each assembly belongs to this amp, and when the other one was built if not."""
    rows: list[list[Child]] = []
    for a in verdict.assemblies:
        runs = "; ".join(
            f"{span_words(index_of(x), index_of(y))} ({percent(p)})"
            for x, y, p in a.sets.get("0.95", ())
        )
        if not runs:
            years = sorted(a.years.items(), key=lambda item: (-item[1], item[0]))[:3]
            runs = ", ".join(f"{year}: {percent(p)}" for year, p in years) or "not known"
        rows.append([a.assembly, figure(1 - a.married), figure(a.married), runs])
    body = el("p", "There is only the chassis.")
    if rows:
        heads = ["Assembly", "Belongs to this amp", "Another amp's", "If another's, that was built"]
        body = table("Assemblies beside the chassis", heads, rows, cls="figures")
    return section("assemblies", "Assemblies", body)


def conflicts(verdict: Verdict) -> Safe:
    """Sets of marks that can't all be right."""
    items: list[Child] = [
        join(
            c.says,
            " ",
            el("span", f"All right and original: {percent(c.p_all_right)}.", cls="figure"),
            mark_links(c.marks),
        )
        for c in verdict.conflicts
    ]
    body = bullets(items) if items else el("p", "No set of marks is at odds with itself.")
    return section("conflicts", "Conflicts", body)


def stability(verdict: Verdict) -> Safe:
    """What changes when an assumption is halved or doubled."""
    tried = (
        "lags, odds of replacement, odds of marriage, spread of stock age; each halved and "
        "doubled, one at a time"
    )
    if verdict.stable and not verdict.unstable:
        body = el("p", f"No word and no year changes under: {tried}.")
    else:
        rows: list[list[Child]] = [
            [u.assumption, f"× {u.factor:g}", u.what] for u in verdict.unstable
        ]
        body = join(
            el("p", f"Tried: {tried}."),
            table("What changes", ["Assumption", "Taken", "Then"], rows),
        )
    return section("stability", "Stability", body)
