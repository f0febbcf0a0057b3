"""The top of the page: the verdict in words, its numbers, the sentences with their marks."""

from __future__ import annotations

from collections import Counter

from ..chronology.verdict import Verdict
from ..dossier.types import Claim, Dossier
from ..reference.types import Reference
from .blocks import mark_links, section
from .markup import Child, Safe, el, join
from .numbers import day_words, listed, percent
from .strip import strip_svg
from .timeline import timeline_sheets, timeline_svg
from .wording import SIGNS, beside, headline, pieces, title_of_model


def opening(verdict: Verdict, reference: Reference, dossier: Dossier) -> Safe:
    """Headline, the number beside it, the little curve and the numbers that sum the verdict up."""
    what = [f"Dossier {verdict.dossier}"]
    if dossier.purpose:
        what.append(
            f"to {dossier.purpose}" if dossier.purpose in ("buy", "sell") else dossier.purpose
        )
    what.append(f"as of {day_words(dossier.as_of)}")
    return el(
        "header",
        el(
            "p",
            *(join(" · " if i else None, el("span", w)) for i, w in enumerate(what)),
            cls="what",
        ),
        el("h1", headline(verdict, reference).text),
        el("p", beside(verdict), cls="beside"),
        Safe(strip_svg(verdict)),
        el("dl", *(_fact(name, said) for name, said in facts(verdict, reference)), cls="facts"),
        cls="opening",
    )


def facts(verdict: Verdict, reference: Reference | None) -> list[tuple[str, str]]:
    """The numbers that sum the verdict up, each with its name."""
    out = [("Most likely year", f"{verdict.build.mode_year}, {percent(verdict.build.p_mode_year)}")]
    sets = "; ".join(f"{p.words} ({percent(p.mass)})" for p in pieces(verdict))
    out.append(("95% set", sets or "empty"))
    if verdict.models:
        best = max(verdict.models, key=lambda m: m.p)
        out.append(("Model", f"{title_of_model(reference, best.model)}, {percent(best.p)}"))
    claim = verdict.claim
    if claim is not None:
        said = "can't be judged" if claim.p is None else f"holds with {percent(claim.p)}"
        out.append(("Claim", f"{said}; weakest: {claim.weakest}" if claim.weakest else said))
    words = Counter(p.word for p in verdict.parts)
    counted = [f"{words[w]} {w}" for w in SIGNS if words[w]]
    out.append(("Parts", ", ".join(counted) or "none recorded"))
    stands = (
        "stands with each assumption halved or doubled"
        if verdict.stable
        else ("changes if an assumption is halved or doubled")
    )
    out.append(("Stability", stands))
    return out


def claim_words(claim: Claim, reference: Reference | None) -> str:
    """The claim as it was made, as a sentence."""
    said = [title_of_model(reference, claim.model)] if claim.model else []
    if claim.maker:
        said.append(f"by {claim.maker}")
    if claim.built:
        said.append(f"built {claim.built}")
    if claim.original:
        kept = f"original: {listed(claim.original)}"
        said.append(f"{kept} but {listed(claim.excluded)}" if claim.excluded else kept)
    if not said:
        return "Nothing is claimed."
    by = f" (says the {claim.by})" if claim.by else ""
    return f"Said to be: {', '.join(said)}{by}."


def sentences(verdict: Verdict) -> Safe:
    """The verdict's own sentences, each with links to the marks it rests on.

    A sentence lights its marks up on the time line while it is pointed at, holds the focus, or
    was chosen by its number.
    """
    items: list[Safe] = []
    for i, sentence in enumerate(verdict.words, start=1):
        number = el(
            "a", str(i), href=f"#say-{i}", cls="pick", aria_label=f"Sentence {i}: show its marks"
        )
        rests = mark_links(sentence.marks) if sentence.marks else None
        items.append(el("li", number, el("div", el("p", sentence.text), rests), id=f"say-{i}"))
    body: Child = (
        el("ol", *items, cls="says") if items else el("p", "Nothing is said: no mark was weighed.")
    )
    return section(
        "words",
        "What the marks say",
        body,
        note="Choose a sentence's number to light up its marks on the time line." if items else "",
    )


def timelines(verdict: Verdict, reference: Reference) -> Safe:
    """The time line for wide and narrow windows, and for paper where one sheet is not enough.

    Only one of them is ever shown.
    """
    paper = timeline_sheets(verdict, reference)
    paper = paper if len(paper) > 1 else []
    return section(
        "time-line",
        "Time line",
        Safe(timeline_svg(verdict, reference, prefix="tw")),
        Safe(timeline_svg(verdict, reference, narrow=True, prefix="tn")),
        *(Safe(sheet) for sheet in paper),
        el(
            "p",
            "Part: ",
            *(join(el("span", sign_of(word), " ", word), " ") for word in SIGNS),
            cls="key",
        ),
        note=(
            "A row a mark; each tick is one thing it can mean, taller and darker the more it "
            "weighs after everything else is known. Ticks on replaced parts are hollow; a thin "
            "line says when a feature was fitted. Behind the rows: the build date; dashed lines "
            "end its 95% set."
        ),
    )


def sign_of(word: str) -> Safe:
    """The sign of an origin word; hidden from screen readers, since the word stands beside it."""
    return el("span", SIGNS.get(word, ("", ""))[0], cls="sign", aria_hidden="true")


def lights(verdict: Verdict) -> str:
    """Style rules that light up the marks of a sentence, and the mark that was jumped to."""
    rules: list[str] = []
    for i, sentence in enumerate(verdict.words, start=1):
        if sentence.marks:
            rows = ",".join(f".m{int(n)}" for n in sentence.marks)
            chosen = f"main:has(#say-{i}:is(:hover,:focus-within,:target))"
            rules.append(f"{chosen} :is({rows}){{--lit:var(--light)}}")
    for mark in verdict.marks:
        n = int(mark.mark.n)
        rules.append(f"main:has(#mark-{n}:target) .m{n}{{--lit:var(--light)}}")
    return "\n".join(rules)


def _fact(name: str, said: str) -> Safe:
    return el("div", el("dt", name), el("dd", said))
