"""How history tells what happened at the bench: which row an event is about, and its content."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..store.events import Event

ROWS: Mapping[str, str] = {
    "reading-set": "reading",
    "reading-withdrawn": "reading",
    "override-given": "override",
    "override-withdrawn": "override",
    "replaced-set": "replaced",
    "replaced-withdrawn": "replaced",
    "fault-set": "fault",
    "fault-withdrawn": "fault",
    "bags-handed-over": "handover",
    "handover-withdrawn": "handover",
}
"""The key by which an event of each kind names its row."""

_CONTENT = ("line", "stage", "part", "fault", "bags", "at", "value", "unit", "by_what", "result")


def place_and_value(event: Event) -> tuple[tuple[str, str] | None, Mapping[str, Any]]:
    """The row an event is about and what it holds from then on; None: no event of the bench."""
    if event.kind == "sheet-head-set":
        return ("sheet", ""), event.data["keys"]
    name = ROWS.get(event.kind)
    if name is None:
        return None, {}
    return (name, str(event.data[name])), event.data.get("row", {})


def row_words(row: Mapping[str, Any]) -> str:
    """'earth-bond: 60 mohm', 'rail-volts at B1: 352 V', 'ot: by a new one'."""
    head = _said(row, "line") or _said(row, "part") or _said(row, "fault") or _bags(row)
    head = head or (f"every line of {row['stage']}" if row.get("stage") else "")
    at = f" at {_said(row, 'at')}" if _said(row, "at") else ""
    value = " ".join(filter(None, (_said(row, "value"), _said(row, "unit"))))
    value = value or (f"by {_said(row, 'by_what')}" if row.get("by_what") else "")
    if row.get("result") == "not-possible":
        value = "not possible"
    reason = _said(row, "reason")
    if reason:
        value = f"{reason} ({_said(row, 'by')})" if row.get("by") else reason
    return f"{head}{at}" + (f": {value}" if value else "")


def besides(row: Mapping[str, Any]) -> dict[str, Any]:
    """What a row holds that :func:`row_words` does not tell."""
    told = (*_CONTENT, "reason", "by") if row.get("reason") else _CONTENT
    return {key: value for key, value in row.items() if key not in told}


def _bags(row: Mapping[str, Any]) -> str:
    bags = row.get("bags")
    if not isinstance(bags, list | tuple) or not bags:
        return ""
    listed = ", ".join(str(bag) for bag in bags)  # pyright: ignore
    to = f" to {_said(row, 'to')}" if row.get("to") else ""
    return f"bag {listed}{to}"


def _said(row: Mapping[str, Any], key: str) -> str:
    value = row.get(key)
    if value is None or isinstance(value, bool):
        return ""
    return str(value)
