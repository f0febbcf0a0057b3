"""What is fuzzed: every reader of marks, and the loader of dossier files. One function a target.

A target takes a provider of arbitrary data and raises where something is not as it must be.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from math import isfinite
from typing import Any, Protocol

from endbell.dossier import DossierError, parse_dossier
from endbell.marks import KINDS, MarkReading, Seen, read_mark
from endbell.reference import load_reference


class Provider(Protocol):
    """The part of atheris.FuzzedDataProvider that is used here."""

    def ConsumeIntInRange(self, low: int, high: int) -> int: ...
    def ConsumeUnicodeNoSurrogates(self, count: int) -> str: ...
    def ConsumeBool(self) -> bool: ...
    def ConsumeFloat(self) -> float: ...
    def PickValueInList(self, items: list[Any]) -> Any: ...
    def remaining_bytes(self) -> int: ...


Target = Callable[[Provider], None]

REFERENCE, _ = load_reference(("brackwater",))
TYPED = "0123456789?[]^-./, :'ABCDEFGHJKLMNPRSTUVWXYZabcdefgijmnoprtuvy…½"
LEGIBILITY = ["clear", "worn", "poor"]
RESULT = ["seen", "seen", "seen", "absent", "nothing-found", "illegible", "not-possible"]
FEATURES: list[str | None] = [*sorted(REFERENCE.features), "no-such-feature", None]
WORDS = [*sorted(REFERENCE.conditions), "no-such-word"]
CLASSES = [*sorted(REFERENCE.classes), ""]


def some_text(data: Provider, longest: int = 40) -> str:
    """Half of the time what a bench could type, else anything."""
    if data.ConsumeBool():
        return data.ConsumeUnicodeNoSurrogates(longest)
    count = data.ConsumeIntInRange(0, longest)
    return "".join(data.PickValueInList(list(TYPED)) for _ in range(count))


def some_value(data: Provider) -> str | float | None:
    choice = data.ConsumeIntInRange(0, 3)
    if choice == 0:
        return some_text(data, 20)
    if choice == 1:
        return data.ConsumeFloat()
    values = [v.value for f in REFERENCE.features.values() for v in f.values]
    return data.PickValueInList(values) if choice == 2 else None


def reader(kind: str) -> Target:
    """The reader of one kind of mark."""

    def run(data: Provider) -> None:
        seen = Seen(
            kind=kind,
            legibility=data.PickValueInList(LEGIBILITY),
            result=data.PickValueInList(RESULT),
            part_class=data.PickValueInList(CLASSES),
            feature=data.PickValueInList(FEATURES) if kind == "feature" else None,
            value=some_value(data),
            quantity=data.PickValueInList(["weave-pitch", "height", None]),
            unit=data.PickValueInList(["mm", "cm", "in", "furlong", None]),
            uncertainty=data.PickValueInList([0.0, 0.05, -1.0, float("nan"), None]),
            date=some_text(data, 20) if kind == "document" else None,
            text=data.PickValueInList(WORDS)
            if kind == "condition" and data.ConsumeBool()
            else some_text(data),
        )
        whole(read_mark(seen, REFERENCE.tables), seen)

    return run


def whole(reading: MarkReading, seen: Seen) -> None:
    """What holds for every reading, whatever was typed."""
    assert reading.kind == seen.kind
    if reading.misfit is not None:
        assert reading.dating == "nothing", reading
        assert reading.misfit.found and reading.misfit.accepted, reading
    if reading.readings:
        assert abs(sum(r.p for r in reading.readings) - 1.0) < 1e-6, reading
    for r in reading.readings:
        assert 0.0 <= r.p <= 1.0 + 1e-9 and isfinite(r.spread_weeks), r
        assert r.first is None or r.last is None or r.first <= r.last, r
    spans = [s for r in reading.readings for s in r.spans]
    spans += [s for split in reading.splits for s in split.spans] + [t.span for t in reading.terms]
    for s in spans:
        assert 0 <= s.start <= s.end <= len(reading.text), (s, reading.text)
    for split in reading.splits:
        assert 0.0 < split.weight <= 1.0 + 1e-9, split
        for vector in (*split.source, *split.year, *split.week):
            assert len(vector) == 10 and all(0.0 <= p <= 1.0 + 1e-9 for p in vector), split
    if reading.number is not None:
        assert isfinite(reading.number) and reading.uncertainty >= 0.0, reading


LINES = [
    'format = "endbell-dossier/1"', 'format = "endbell-dossier/2"', "format = 1", 'id = "a"', "as_of = 2026-03-02",
    'as_of = "2026"', "as_of = 2026-03-02T10:00:00Z", 'packs = ["brackwater"]', "packs = 3", "[known]", 'made = "1961/1967"',
    "[claim]", 'built = "196X"', 'model = "lantern-20"', 'original = ["everything"]', 'except = ["valves"]', "[[part]]",
    'id = "ot"', 'class = "output-transformer"', 'assembly = "chassis"', "[[repair]]", 'done = "1998-05"', "replaced = true",
    'done = "2010/1990"', "[[mark]]", 'part = "ot"', 'part = "pot-1"', 'part = "nothing"', 'kind = "source-date-code"',
    'kind = "feature"', 'kind = "document"', 'kind = "measured"', 'kind = "rune"', 'text = "993-3?8"', 'text = ""', "text = 993",
    'legibility = "worn"', 'legibility = "bad"', 'result = "absent"', 'feature = "covering-colour"', 'value = "grey-tweed"',
    "value = 2.31", "value = nan", "value = inf", 'quantity = "weave-pitch"', 'unit = "mm"', "uncertainty = 0.05", 'date = "1965-02-14"',
    'date = "1965-02-30"', 'photos = ["a.jpg"]', "photos = [[]]", "on = 2026-03-02", "on = 1", "[mark]", "[[claim]]", "x = {a = [1, {}]}",
]  # fmt: skip


def loaded(text: str) -> None:
    """A dossier is read, or refused in one sentence; nothing typed is lost."""
    try:
        dossier = parse_dossier(text, lambda _: REFERENCE, today=date(2026, 3, 2), file="amp.toml")
    except DossierError as refusal:
        assert str(refusal).strip() and "\n" not in str(refusal).strip(), refusal
        return
    known = {p.id for p in dossier.parts}
    assert all(m.part in known for m in dossier.marks) and all(
        r.part in known for r in dossier.repairs
    )
    assert len({m.n for m in dossier.marks}) == len(dossier.marks)
    for problem in (*dossier.problems, *dossier.remarks):
        assert problem.found and problem.accepted, problem
    for mark in dossier.marks:
        assert mark.text in text or "\\" in text or '"""' in text or "'''" in text, mark


def dossier_of_any_text(data: Provider) -> None:
    """The loader given anything at all."""
    loaded(data.ConsumeUnicodeNoSurrogates(data.remaining_bytes()))


def dossier_of_lines(data: Provider) -> None:
    """The loader given lines that each could stand in a dossier, in any order, now and then spoilt."""
    lines: list[str] = []
    for _ in range(data.ConsumeIntInRange(0, 40)):
        line = data.PickValueInList(LINES)
        if data.ConsumeIntInRange(0, 9) == 0 and "=" in line:
            line = line.split("=")[0] + "= " + some_text(data, 20)
        lines.append(line)
    loaded("\n".join(lines))


TARGETS: dict[str, Target] = {
    **{kind: reader(kind) for kind in KINDS},
    "dossier of any text": dossier_of_any_text,
    "dossier of lines": dossier_of_lines,
}
