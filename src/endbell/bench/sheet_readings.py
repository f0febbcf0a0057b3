"""A ``[[reading]]`` as a reading in SI units, and recordings: whatever has a unit in it."""

from __future__ import annotations

from collections.abc import Mapping

from ..dossier.limits import visible
from ..dossier.rows import Desk, Place, Row
from ..dossier.values import Fault, nearest_words
from .impossible import why_impossible
from .limits import limits
from .lines import LineKind
from .readings import Reading, Recording
from .sheet_keys import RECORDING
from .sheet_rows import Table
from .units import measure, number_text, spread

_RECORDING_KEYS = frozenset(key.name for key in RECORDING)


def reading_of(
    desk: Desk, row: Row, kinds: Mapping[str, LineKind], by: str, on: str
) -> tuple[Reading, str] | None:
    """The reading of a row, with why it can't be ('' where it can); None: not used, a problem said.

    ``by``, ``on``: of the sheet, where the row does not say.
    """
    place, line = row.place, row.text("line").strip()
    kind = kinds.get(line)
    if kind is None:
        near = nearest_words(line, kinds)
        fault = Fault(f'no line "{visible(line)}"', "the id of a line (docs/bench.md)", near)
        desk.problem(place, fault)
        return None
    if not kind.measured:
        desk.problem(
            place,
            Fault(
                f"{line} ({kind.title}) is worked out, not read", "readings of lines it rests on"
            ),
        )
        return None
    result, day = row.text("result") or "read", row.day("on")
    value: float | None = None
    sd = 0.0
    typed = ""
    if result == "read":
        found = _value(row, kind)
        if isinstance(found, Fault):
            desk.problem(place, Fault(f"{line}: {found.found}", found.accepted, found.nearest))
            return None
        value, typed = found
        sd = _spread(desk, row, kind, value)
    elif not row.text("note").strip():
        desk.problem(
            place, Fault(f"{line} is not possible, without a reason", "the reason, as note")
        )
        return None
    reading = Reading(
        n=place.table or 0,
        line=line,
        at=row.text("at").strip(),
        typed=typed,
        value=value,
        spread=sd,
        after=row.values.get("after") is True,
        result=result,
        by=row.text("by") or by,
        on=day.isoformat() if day else on,
        note=row.text("note"),
    )
    return reading, "" if value is None else why_impossible(kind, value, typed)


def recording_of(desk: Desk, row: Row, table: Table) -> Recording | None:
    """The recording of a row; further keys of text or number go along as they are."""
    levels: dict[str, float | None] = {}
    for key, unit in (("full_scale", "V"), ("load", "ohm")):
        raw = row.text_or_number(key)
        found = None if raw is None else measure(_text(raw), unit)
        if isinstance(found, Fault):
            desk.problem(row.place, Fault(f"{key}: {found.found}", found.accepted))
            return None
        if found is not None and found.value <= 0:
            desk.problem(row.place, Fault(f"{key} is {raw}", "more than 0"))
            return None
        levels[key] = None if found is None else found.value
    keys = {
        key: float(value) if isinstance(value, int) else value
        for key, value in table.items()
        if key not in _RECORDING_KEYS and isinstance(value, str | int | float)
    }
    return Recording(
        n=row.place.table or 0,
        kind=row.text("kind"),
        file=row.text("file"),
        full_scale=levels["full_scale"],
        load_ohm=levels["load"],
        after=row.values.get("after") is True,
        keys=keys,
    )


def ambient_of(desk: Desk, place: Place, raw: str | float | None, otherwise: float) -> float:
    """The temperature of the shop in K; a bare number is in °C."""
    if raw is None:
        return otherwise
    text = _text(raw)
    found = measure(text if text[-1:].isalpha() else f"{text} °C", "K")
    if isinstance(found, Fault) or not 223.15 <= found.value <= 373.15:
        said = found.found if isinstance(found, Fault) else f"ambient is {text}"
        desk.remark(place, Fault(said, 'the temperature of the shop, written 22 or "22 °C"'))
        return otherwise
    return found.value


def _value(row: Row, kind: LineKind) -> tuple[float, str] | Fault:
    raw, written = row.text_or_number("value"), row.text("unit").strip()
    if raw is None:
        return Fault("no value", 'what the meter shows, or result = "not-possible" with a note')
    text = _text(raw).strip()
    if written and text:
        if isinstance(raw, str) and text.endswith(written):
            written = ""
        text = f"{text} {written}".strip()
    found = measure(text, kind.unit)
    if isinstance(found, Fault):
        return found
    if found.relation and _hides_a_failure(kind.id, found.relation):
        beyond = "more" if found.relation == ">" else "less"
        return Fault(
            f'"{visible(text)}": what fails here is {beyond} than a limit, and that hides it',
            "the figure itself, on a range of the meter that shows it",
        )
    return found.value, text


def _hides_a_failure(line: str, relation: str) -> bool:
    """'>200M' is enough where only too little fails; it isn't where too much does."""
    bounds = [limit.bound for limit in limits() if limit.line == line]
    if relation == ">":
        return any(bound.high is not None for bound in bounds)
    return any(bound.low is not None for bound in bounds)


def _spread(desk: Desk, row: Row, kind: LineKind, value: float) -> float:
    raw = row.text_or_number("uncertainty")
    if raw is None:
        return 0.0
    found = spread(raw, value, row.text("unit").strip(), kind.unit)
    if isinstance(found, Fault):
        desk.remark(row.place, Fault(f"uncertainty: {found.found}", found.accepted))
        return 0.0
    return found


def _text(raw: str | float) -> str:
    return raw if isinstance(raw, str) else number_text(raw)
