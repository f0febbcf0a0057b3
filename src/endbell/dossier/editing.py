"""Dossier files written for people: a blank one, and a mark added without losing a comment."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, cast

from ..reference.types import ExpectedPart, Model, Reference
from .keys import FORMAT_NAME, FORMAT_NUMBER
from .limits import visible
from .text import check_format, parse_toml
from .types import Mark

_BODY = ("text", "feature", "value", "quantity", "unit", "uncertainty", "date")


def blank_dossier(
    dossier_id: str,
    as_of: date,
    reference: Reference,
    model: Model | None,
    packs: Iterable[str] = (),
) -> str:
    """The text of a new dossier: a commented mark for every part that ``model`` should have.

    Marks stand in the order of the work: outside, back off, chassis out; the caution of a level
    stands where its step begins.  Nothing is claimed or seen until a comment sign is removed, so
    the text loads as an empty dossier.
    """
    lines = [
        f'format = "{FORMAT_NAME}/{FORMAT_NUMBER}"',
        f"id = {_quoted(dossier_id)}",
        f"# as_of = {as_of.isoformat()}            # default: the newest day among the marks",
        'purpose = "service"               # buy | sell | service | insurance',
        f"packs = [{', '.join(_quoted(pack) for pack in packs)}]",
        "",
        "[claim]                           # what it is said to be, and by whom; every key "
        "optional",
    ]
    if model is not None:
        lines += [f"maker = {_quoted(model.maker)}", f"model = {_quoted(model.id)}"]
    else:
        lines += ['# maker = ""', '# model = ""']
    lines += [
        '# built = "1964"                  # 1964, 1963/1965, 196X, 1964-03 …',
        '# original = ["everything"]',
        '# except = ["valves"]',
        '# by = "seller"',
        "",
        "# Marks: remove the # of those you have seen; leave the rest, that means 'not looked at'.",
        "# text exactly as seen:  ? a character that can't be read   [38] one of these   ... "
        "more was there",
        '# legibility = "clear" | "worn" | "poor"',
        '# result = "seen" | "absent" | "nothing-found" | "illegible" | "not-possible"',
    ]
    for level, marks in _by_level(reference, model).items():
        if not marks:
            continue
        lines += ["", f"# ---- {level} " + "-" * (70 - len(level))]
        if level in reference.cautions:
            lines += _comment(f"CAUTION: {reference.cautions[level]}")
        for mark in marks:
            lines += ["", *mark]
    return "\n".join(lines) + "\n"


def add_mark(text: str, mark: Mark, file: str = "") -> str:
    """The file's ``text`` with ``mark`` added after the last one; comments and lay-out are kept.

    Raises :class:`DossierError` where the text is no dossier, so that a broken file is never
    written over.
    """
    check_format(file, parse_toml(text, file))
    ending = "\r\n" if "\r\n" in text else "\n"
    body = text if not text or text.endswith("\n") else text + ending
    added = _added(body, mark, ending)
    if added is None:
        added = body + ending + ending.join(mark_lines(mark)) + ending
    parse_toml(added, file)
    return added


def mark_lines(mark: Mark) -> list[str]:
    """A ``[[mark]]`` table as lines of TOML: only what was given, in quotes that keep it whole."""
    lines = ["[[mark]]", f"part = {_quoted(mark.part)}", f"kind = {_quoted(mark.kind)}"]
    for key in _BODY:
        value = getattr(mark, key)
        if value is not None and value != "":
            lines.append(f"{key} = {_toml(value)}")
    defaults: Mapping[str, str] = {"legibility": "clear", "result": "seen", "place": "", "by": ""}
    lines += [
        f"{key} = {_quoted(getattr(mark, key))}"
        for key, default in defaults.items()
        if getattr(mark, key) != default
    ]
    if mark.on is not None:
        lines.append(f"on = {mark.on.isoformat()}")
    if mark.photos:
        lines.append("photos = [" + ", ".join(_quoted(photo) for photo in mark.photos) + "]")
    if mark.note:
        lines.append(f"note = {_quoted(mark.note)}")
    return lines


def _added(text: str, mark: Mark, ending: str) -> str | None:
    """``mark`` put into the array of marks by tomlkit, or None where plain appending is right.

    Appending at the end of the file is what a person would do; only where the marks are written
    as an inline array (``mark = [{...}]``) would a ``[[mark]]`` header clash with it.
    """
    import tomlkit
    from tomlkit.items import Array

    document: Any = tomlkit.parse(text)
    marks: Any = document.get("mark")
    if not isinstance(marks, Array):
        return None
    given: Any = tomlkit.parse(ending.join(mark_lines(mark)))
    table: Any = tomlkit.inline_table()
    for key, value in given["mark"][0].items():
        table[key] = value
    cast("Any", marks).append(table)
    return tomlkit.dumps(document)


def _by_level(reference: Reference, model: Model | None) -> dict[str, list[list[str]]]:
    levels: dict[str, list[list[str]]] = {level: [] for level in reference.levels}
    if model is None:
        return levels
    for part in model.expected:
        for feature in reference.features.values():
            if feature.part in (part.id, part.part_class):
                values = [v.value for v in feature.values if not v.models or model.id in v.models]
                words = f"{feature.title}: {' | '.join(dict.fromkeys([*values, 'absent']))}"
                lines = [
                    f"part = {_quoted(part.id)}",
                    'kind = "feature"',
                    f"feature = {_quoted(feature.id)}",
                    'value = ""',
                ]
                levels.setdefault(feature.level, []).append(_commented(words, lines))
        for quantity in reference.quantities.values():
            if quantity.part in (part.id, part.part_class):
                lines = [
                    f"part = {_quoted(part.id)}",
                    'kind = "measured"',
                    f"quantity = {_quoted(quantity.id)}",
                    "value = ",
                    f"unit = {_quoted(quantity.unit)}",
                    "uncertainty = ",
                ]
                levels.setdefault(quantity.level, []).append(_commented(quantity.title, lines))
        for kind in part.kinds:
            if kind in ("feature", "measured"):
                continue
            level, words = _look(reference, part, kind)
            key = "date" if kind == "document" else "text"
            lines = [f"part = {_quoted(part.id)}", f"kind = {_quoted(kind)}", f'{key} = ""']
            levels.setdefault(level, []).append(_commented(words, lines))
    return levels


def _look(reference: Reference, part: ExpectedPart, kind: str) -> tuple[str, str]:
    """At which level a kind of mark on a part can be looked for, and how to say it."""
    where = f" ({part.place})" if part.place else ""
    for check in reference.checks:
        if check.part_class == part.part_class and check.kind == kind:
            return check.level, f"{check.title}{where}"
    known = reference.classes.get(part.part_class)
    title = known.title if known else part.part_class
    # no pack says how far in it is: with the chassis out it can surely be seen
    level = "chassis-out" if "chassis-out" in reference.levels else reference.levels[-1]
    return level, f"{title}{where}: {kind}"


def _commented(words: str, lines: Iterable[str]) -> list[str]:
    return [*_comment(words), "# [[mark]]", *(f"# {line}" for line in lines)]


def _comment(words: str, width: int = 96) -> list[str]:
    import textwrap

    return [f"# {line}" for line in textwrap.wrap(visible(words, 1_000), width)]


def _toml(value: str | float) -> str:
    if isinstance(value, str):
        return _quoted(value)
    return f"{value:g}" if float(f"{value:g}") == value else repr(value)


def _quoted(text: str) -> str:
    """A TOML basic string; what can't be seen is escaped, so that the file shows what it holds."""
    out: list[str] = []
    for c in text:
        if c in '"\\':
            out.append("\\" + c)
        elif c == "\n":
            out.append("\\n")
        elif c == "\t":
            out.append("\\t")
        elif ord(c) < 32 or 0x7F <= ord(c) < 0xA0 or visible(c) != c:
            out.append(f"\\u{ord(c):04x}" if ord(c) < 0x10000 else f"\\U{ord(c):08x}")
        else:
            out.append(c)
    return '"' + "".join(out) + '"'
