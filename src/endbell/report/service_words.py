"""A service record as words: every table of the report, the same for the page and the PDF."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ..bench.before_after import Change
from ..bench.limits import PRACTICES
from ..bench.lines import OFF, Judgement, Line
from ..bench.result_json import bound_told, told
from ..bench.service import Replacement, ServiceRecord
from ..bench.stages import ORDER, TITLES, Stage

FROM_MEMORY = "limit from memory: check the standard"


def words_of(record: ServiceRecord) -> dict[str, Any]:
    """Everything the report says, as plain texts (JSON values).

    ``stages``: title and rows of (line, value, judgement, whether it is off, limits);
    ``changes``: rows of (line, before, after, word); ``replaced``: rows of (part, by what, why,
    who and when, readings, whereabouts); ``bags``: rows of (bag, part, removed, handed over);
    ``sources``: where limits come from, numbered from 1 as the limits name them.
    """
    sources: dict[str, int] = {}
    return {
        "number": record.number,
        "title": record.title,
        "facts": [list(pair) for pair in _facts(record)],
        "headline": record.headline,
        "says": record.says,
        "replaced": [_replaced(one) for one in record.replaced],
        "changes": [_change(change) for change in record.changes],
        "stages": [stage for stage in (_stage(record, s, sources) for s in ORDER) if stage["rows"]],
        "sources": list(sources),
        "faults": [_fault(record, n) for n in range(len(record.faults))],
        "overrides": [
            f"{o.line or f'every line of the stage {o.stage}'}{f' at {o.at}' if o.at else ''} was "
            f"let pass by {o.by}: {o.reason}"
            for o in record.overrides
        ],
        "missing": list(record.missing),
        "cautions": list(record.cautions),
        "custody": record.custody if record.bagged else "",
        "bags": [_bag(one) for one in record.bagged],
        "handed": [
            f"Bag{'s' if len(h.bags) > 1 else ''} {', '.join(h.bags)} handed to {h.to}"
            f"{f' on {h.on}' if h.on else ''}{f' by {h.by}' if h.by else ''}."
            f"{f' {h.note}' if h.note else ''}"
            for h in record.handovers
        ],
    }


def named(line: Line) -> str:
    """'Rail at B1'."""
    return f"{line.title} at {line.at}" if line.at else line.title


def _facts(record: ServiceRecord) -> Iterable[tuple[str, str]]:
    yield "Amplifier", record.title
    yield "Number", record.number
    if record.owner:
        yield "Owner", record.owner
    yield (
        "Held against",
        f"{record.circuit}; limits: {PRACTICES.get(record.practice, record.practice)}",
    )
    if record.on:
        yield "Day", record.on
    if record.by:
        yield "Measured by", record.by


def _stage(record: ServiceRecord, stage: Stage, sources: dict[str, int]) -> dict[str, Any]:
    rows = [_row(line, sources) for line in record.lines if line.stage is stage]
    return {"title": TITLES[stage], "rows": rows}


def _row(line: Line, sources: dict[str, int]) -> list[Any]:
    return [
        named(line),
        told(line.value, line.unit) or "no figure",
        line.judgement.value,
        line.judgement in OFF or line.judgement is Judgement.CHECK,
        limits(line, sources) or line.says,
    ]


def limits(line: Line, sources: dict[str, int]) -> str:
    """Every limit with the number of where it comes from, which ``sources`` keeps.

    One from memory is never given as a standard's.
    """
    said: list[str] = []
    for bound in line.bounds:
        if bound.confidence == "from memory":
            said.append(f"{bound_told(bound, line.unit)} ({bound.title}; {FROM_MEMORY})")
            continue
        source = bound.source or bound.confidence
        if bound.confidence not in ("published", source):
            source = f"{source} ({bound.confidence})"
        number = sources.setdefault(source, len(sources) + 1)
        said.append(f"{bound_told(bound, line.unit)} ({bound.title}) [{number}]")
    return "; ".join(said)


def _change(change: Change) -> list[str]:
    return [named(change.line), _side(change.before), _side(change.after), change.word]


def _side(line: Line | None) -> str:
    if line is None or line.judgement is Judgement.NOT_MEASURED:
        return "–"
    return f"{told(line.value, line.unit) or 'no figure'} ({line.judgement.value})"


def _replaced(one: Replacement) -> list[str]:
    who = ", ".join(filter(None, (one.by, one.done)))
    read = ", ".join(
        filter(
            None, (f"old {one.first}" if one.first else "", f"new {one.after}" if one.after else "")
        )
    )
    part = one.title if one.title == one.part else f"{one.title} ({one.part})"
    why = one.why + (f" ({one.note})" if one.note else "")
    return [part, one.by_what or "not said", why or "not said", who, read, one.whereabouts]


def _bag(one: Replacement) -> list[str]:
    part = one.title if one.title == one.part else f"{one.title} ({one.part})"
    handed = f"{one.to}{f', {one.on}' if one.on else ''}" if one.to else ""
    return [one.bag or "no number", part, one.done, handed]


def _fault(record: ServiceRecord, n: int) -> str:
    fault = record.faults[n]
    where = " ".join(filter(None, (f"at {fault.at}" if fault.at else "", fault.part)))
    return f"{fault.fault}{f' ({where})' if where else ''}{f': {fault.note}' if fault.note else ''}"
