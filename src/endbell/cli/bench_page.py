"""A computed sheet as one HTML file: opens from disk, asks nothing of the network, prints."""

from __future__ import annotations

from importlib.resources import files

from .. import __version__
from ..bench.gates import StageState, cautions_of
from ..bench.lines import SIGNS, Judgement, Line
from ..bench.result import OVERRIDING, SheetResult
from ..report.markup import Safe, el, join
from ..report.page import page_head
from . import bench_words as words


def bench_page(result: SheetResult) -> str:
    """The whole sheet as a self-contained page; no script, no outside address."""
    style = files("endbell.report").joinpath("page.css").read_text(encoding="utf-8")
    sheet = result.sheet
    head = page_head(f"{sheet.id}: {words.headline(result)}", style)
    about = [result.circuit.title, f"limits: {sheet.practice}"]
    about += [sheet.on.isoformat()] if sheet.on else []
    about += [sheet.by] if sheet.by else []
    body = el(
        "body",
        el("a", "Skip to the sheet", href="#main", cls="skip"),
        el(
            "header",
            el("p", f"Bench sheet {sheet.id}", cls="what"),
            el("h1", words.headline(result)),
            el("p", " · ".join(about), cls="beside"),
            el("p", OVERRIDING, cls="caution"),
            cls="opening",
        ),
        el("main", *_sections(result), id="main", tabindex="-1"),
        el("footer", el("p", f"Endbell {__version__} · {sheet.id}. {OVERRIDING}")),
    )
    return f"<!DOCTYPE html>\n{el('html', head, body, lang='en-GB')}\n"


def _sections(result: SheetResult) -> list[Safe]:
    stages = [_stage(result, state, n) for n, state in enumerate(result.stages, start=1)]
    rest = (
        _causes(result),
        _next(result),
        _changes(result),
        _replaced(result),
        _list("To be said", result.remarks),
    )
    bad = [
        f"{p.header} {p.table or ''}: {p.found}. Accepted: {p.accepted}" for p in result.problems
    ]
    found = (*stages, *rest, _list("Rows that are not used", bad))
    return [section for section in found if section is not None]


def _stage(result: SheetResult, state: StageState, number: int) -> Safe:
    title = el("h2", words.stage_head(state, number), id=f"stage-{number}")
    if state.state == "waits":
        held = [h for h in result.held if h.stage is state.stage and h.readings]
        early = ", ".join(f"{h.id} at {h.at}" if h.at else h.id for h in held)
        return el(
            "section",
            title,
            el("p", f"Waits for {words.waits_told(state)}."),
            el("p", f"Taken too early, kept and not judged: {early}.") if early else None,
            aria_labelledby=f"stage-{number}",
        )
    lines = words.of_stage(result, state.stage)
    measured = [line for line in lines if line.judgement is not Judgement.NOT_MEASURED]
    todo = words.grouped(words.to_measure(lines))
    held = dict.fromkeys(h.id for h in result.held if h.stage is state.stage)
    waits = dict.fromkeys(
        words.wait_told(w) for h in result.held if h.stage is state.stage for w in h.waits_for
    )
    overridden = [
        f"{let.line}{f' at {let.at}' if let.at else ''} ({let.judgement.value}), let pass by "
        f"{let.override.by}: {let.override.reason}"
        for let in state.overridden
    ]
    return el(
        "section",
        title,
        *(el("p", caution, cls="caution") for caution in cautions_of(state.stage)),
        _table(measured) if measured else None,
        *(el("p", said, cls="caution") for said in overridden),
        el("p", f"Not measured: {todo}.") if todo else None,
        el("p", f"{', '.join(held)}: not before {', '.join(waits)}.") if held else None,
        aria_labelledby=f"stage-{number}",
    )


def _table(lines: list[Line]) -> Safe:
    heads = ("Line", "Value", "Judgement", "What it says, limits and working")
    return el(
        "table",
        el("caption", "Lines of this stage"),
        el("thead", el("tr", *(el("th", head, scope="col") for head in heads))),
        el("tbody", *(_row(line) for line in lines)),
    )


def _row(line: Line) -> Safe:
    at = f" at {line.at}" if line.at else ""
    small = [f"Limits: {words.limits_told(line)}"] if line.bounds else []
    small += [f"Worked out: {line.works}"] if line.works else []
    return el(
        "tr",
        el("th", f"{line.title}{at}", scope="row"),
        el("td", el("span", words.figure(line), cls="figure")),
        el("td", f"{SIGNS[line.judgement]} {line.judgement.value}"),
        el(
            "td",
            el("p", line.says) if line.says else None,
            el("p", line.caution, cls="caution") if line.caution else None,
            *(el("p", text, cls="small") for text in small),
        ),
    )


def _causes(result: SheetResult) -> Safe | None:
    items = [words.cause_told(record) for record in words.records(result, "causes")]
    if not items:
        return None
    rows = (el("li", el("strong", head), el("p", says, cls="small")) for head, says in items)
    said = el("p", str(result.diagnosis.get("says") or ""))
    return el("section", el("h2", "Likely causes"), said, el("ol", *rows))


def _next(result: SheetResult) -> Safe | None:
    items = [words.next_told(record) for record in words.records(result, "next")]
    if not items and not result.due:
        return None
    first = (
        el("p", f"First, what the next step waits for: {words.due_told(result)}.")
        if result.due
        else None
    )
    rows = (
        el(
            "li",
            el("strong", head),
            el("p", says, cls="small"),
            el("p", caution, cls="caution") if caution else None,
        )
        for head, says, caution in items
    )
    return el("section", el("h2", "Measure next"), first, el("ol", *rows) if items else None)


def _changes(result: SheetResult) -> Safe | None:
    if not result.changes:
        return None
    heads = ("Line", "Before", "After", "")
    rows: list[Safe] = []
    for change in result.changes:
        sides = (
            f"{words.figure(side)} ({side.judgement.value})" if side is not None else "–"
            for side in (change.before, change.after)
        )
        cells = (el("td", side) for side in sides)
        row = (el("th", words.name(change.line), scope="row"), *cells, el("td", change.word))
        rows.append(el("tr", *row))
    table = el(
        "table",
        el("thead", el("tr", *(el("th", head, scope="col") for head in heads))),
        el("tbody", *rows),
    )
    return el("section", el("h2", "Before and after the repair"), table)


def _replaced(result: SheetResult) -> Safe | None:
    said: list[str] = []
    for one in result.sheet.replaced:
        text = one.part + (f" by {one.by_what}" if one.by_what else "")
        text += f": {one.why}" if one.why else ""
        bag = f"in bag {one.bag}" if one.bag else "kept"
        said.append(text + (f" (the old part is {bag} for the owner)" if one.kept else ""))
    return _list("Replaced", said)


def _list(title: str, items: list[str] | tuple[str, ...]) -> Safe | None:
    if not items:
        return None
    return el("section", el("h2", title), join(el("ul", *(el("li", item) for item in items))))
