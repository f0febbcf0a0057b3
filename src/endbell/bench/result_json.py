"""A computed sheet as JSON: ``endbell-bench/1``. Same sheet, same circuit: the same bytes."""

from __future__ import annotations

import json
from math import isfinite
from typing import Any, cast

from .. import __version__
from ..dossier.problem_json import problem_json
from .before_after import Change
from .gates import StageState, Wait, cautions_of
from .kinds import line_kinds
from .lines import Bound, Line
from .result import OVERRIDING, Held, SheetResult
from .sheet_types import FaultFound, Replaced
from .telling import shown

FORMAT = "endbell-bench/1"
DIGITS = 9  # significant, of every number
SHOWN_DIGITS = 4


def as_json(result: SheetResult) -> dict[str, Any]:
    """The whole result; numbers in SI units with nine significant digits, and as a person reads
    them under ``shown``."""
    sheet, circuit = result.sheet, result.circuit
    typed = {r.n: r.typed for r in sheet.readings}
    typed |= {reading.n: reading.typed for reading, _ in sheet.impossible}
    record: dict[str, Any] = {
        "format": FORMAT,
        "endbell": __version__,
        "sheet": sheet.id,
        "dossier": sheet.dossier,
        "circuit": {
            "id": circuit.id,
            "title": circuit.title,
            "protection": circuit.protection,
            "source": circuit.source,
            "confidence": circuit.confidence,
        },
        "practice": sheet.practice,
        "on": sheet.on.isoformat() if sheet.on else None,
        "by": sheet.by,
        "ambient": _number(sheet.ambient),
        "says": OVERRIDING,
        "stages": [_stage(state) for state in result.stages],
        "lines": [_line(line) for line in result.lines],
        "held": [_held(held, typed) for held in result.held],
        "due": [
            {"line": line, "at": at, "title": line_kinds()[line].title} for line, at in result.due
        ],
        "changes": [_change(change) for change in result.changes],
        "causes": _rounded(result.diagnosis.get("causes", [])),
        "next": _rounded(result.diagnosis.get("next", [])),
        "replaced": [_replaced(one) for one in sheet.replaced],
        "faults": [_fault(one) for one in sheet.faults],
        "remarks": list(result.remarks),
        "cautions": list(result.cautions),
        "problems": [problem_json(problem) for problem in result.problems],
    }
    more = {k: v for k, v in result.diagnosis.items() if k not in ("causes", "next")}
    if more:
        record["diagnosis"] = _rounded(more)
    return record


def as_bytes(result: SheetResult) -> bytes:
    """The JSON text, UTF-8: keys in a fixed order, an entry of a list a line, a line end."""
    whole = ",\n".join(f" {_text(key)}: {_entries(one)}" for key, one in as_json(result).items())
    return f"{{\n{whole}\n}}\n".encode()


def _entries(value: Any) -> str:
    if not isinstance(value, list) or not value:
        return _text(value)
    lines = ",\n  ".join(_text(one) for one in cast("list[Any]", value))
    return f"[\n  {lines}\n ]"


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def told(value: float | None, unit: str) -> str:
    """A figure for a person: '4.7 kΩ', '60 mΩ'; '' for none."""
    return "" if value is None else shown(value, unit, SHOWN_DIGITS)


def bound_told(bound: Bound, unit: str) -> str:
    """A limit's range for a person: 'at most 100 mΩ', '308 V to 392 V'."""
    low, high = told(bound.low, unit), told(bound.high, unit)
    if low and high:
        return f"{low} to {high}"
    return f"at least {low}" if low else f"at most {high}"


def _line(line: Line) -> dict[str, Any]:
    kind = line_kinds().get(line.id)
    return {
        "id": line.id,
        "title": line.title,
        "at": line.at,
        "stage": line.stage.value,
        "unit": line.unit,
        "value": _number(line.value),
        "shown": told(line.value, line.unit),
        "judgement": line.judgement.value,
        "expected": _number(line.expected),
        "expected_shown": told(line.expected, line.unit),
        "spread": _number(line.spread),
        "bounds": [
            {
                "low": _number(bound.low),
                "high": _number(bound.high),
                "shown": bound_told(bound, line.unit),
                "title": bound.title,
                "source": bound.source,
                "confidence": bound.confidence,
            }
            for bound in line.bounds
        ],
        "says": line.says,
        "works": line.works,
        "readings": list(line.readings),
        "measured": kind.measured if kind else True,
        "how": kind.how if kind else "",
        "minutes": _number(kind.minutes) if kind else None,
        "caution": line.caution,
    }


def _stage(state: StageState) -> dict[str, Any]:
    return {
        "stage": state.stage.value,
        "state": state.state,
        "cautions": list(cautions_of(state.stage)),
        "waits_for": [_wait(wait) for wait in state.waits_for],
        "stopped_by": [_wait(wait) for wait in state.stopped_by],
        "overridden": [
            {
                "line": let.line,
                "at": let.at,
                "title": let.title,
                "judgement": let.judgement.value,
                "by": let.override.by,
                "reason": let.override.reason,
                "on": let.override.on.isoformat() if let.override.on else None,
            }
            for let in state.overridden
        ],
    }


def _wait(wait: Wait) -> dict[str, Any]:
    return {
        "line": wait.line,
        "at": wait.at,
        "title": wait.title,
        "judgement": wait.judgement.value,
        "why": wait.why,
    }


def _held(held: Held, typed: dict[int, str]) -> dict[str, Any]:
    return {
        "id": held.id,
        "at": held.at,
        "title": held.title,
        "stage": held.stage.value,
        "waits_for": list(dict.fromkeys(wait.line for wait in held.waits_for)),
        "readings": [{"n": n, "typed": typed.get(n, "")} for n in held.readings],
    }


def _change(change: Change) -> dict[str, Any]:
    def side(line: Line | None) -> dict[str, Any] | None:
        if line is None:
            return None
        return {
            "value": _number(line.value),
            "shown": told(line.value, line.unit),
            "judgement": line.judgement.value,
        }

    line = change.line
    return {
        "id": line.id,
        "at": line.at,
        "title": line.title,
        "stage": line.stage.value,
        "unit": line.unit,
        "before": side(change.before),
        "after": side(change.after),
        "word": change.word,
    }


def _replaced(one: Replaced) -> dict[str, Any]:
    return {
        "n": one.n,
        "part": one.part,
        "by_what": one.by_what,
        "why": one.why,
        "by": one.by,
        "done": one.done,
        "kept": one.kept,
        "bag": one.bag,
        "first": one.first,
        "after": one.after,
        "note": one.note,
    }


def _fault(one: FaultFound) -> dict[str, Any]:
    return {
        "n": one.n,
        "fault": one.fault,
        "at": one.at,
        "part": one.part,
        "by": one.by,
        "on": one.on.isoformat() if one.on else None,
        "note": one.note,
    }


def _number(value: float | None) -> float | None:
    if value is None or not isfinite(value):
        return None
    return float(f"{value:.{DIGITS}g}")


def _rounded(value: Any) -> Any:
    """What another room tells, its numbers with as many digits as ours."""
    if isinstance(value, bool) or value is None or isinstance(value, str | int):
        return value
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, dict):
        items = cast("dict[object, Any]", value).items()
        return {str(key): _rounded(one) for key, one in items}
    return [_rounded(one) for one in cast("list[Any]", value)]
