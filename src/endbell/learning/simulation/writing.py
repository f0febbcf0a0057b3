"""A drawn dossier as the TOML file a bench would type."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from .design import Design

Value = str | float | Sequence[str]


@dataclass(slots=True)
class Claimed:
    """What the amp is said to be. Empty: nothing is claimed of that."""

    maker: str = ""
    model: str = ""
    built: str = ""
    original: list[str] = field(default_factory=list[str])
    excluded: list[str] = field(default_factory=list[str])


def dossier_text(design: Design, marks: Sequence[Mapping[str, Value]], claim: Claimed) -> str:
    """The whole file; ``marks`` in the order they are to stand."""
    out = [
        'format = "endbell-dossier/1"',
        f"id = {_said(design.id)}",
        f"as_of = {design.as_of.isoformat()}",
        f"purpose = {_said(design.purpose)}",
        f"packs = {_said(list(design.packs))}",
        "",
    ]
    if design.made_text:
        out += ["[known]", f"made = {_said(design.made_text)}", ""]
    out += _claim(claim)
    for part in design.parts:
        if part.declared:
            rows = {"id": part.id, "class": part.part_class, "assembly": part.assembly}
            out += ["[[part]]", *_rows(rows), ""]
    for part in design.parts:
        for work, replaced in ((part.repair, "true"), (part.mended, "false")):
            if work is not None:
                out += ["[[repair]]", *_rows({"part": part.id, "done": work.done})]
                out += [f"replaced = {replaced}", *_rows({"note": work.note}), ""]
    for mark in marks:
        out += ["[[mark]]", *_rows(mark), ""]
    return "\n".join(out)


def _claim(claim: Claimed) -> list[str]:
    rows: dict[str, Value] = {
        "maker": claim.maker,
        "model": claim.model,
        "built": claim.built,
        "original": claim.original,
        "except": claim.excluded,
    }
    said = _rows({key: value for key, value in rows.items() if value})
    return ["[claim]", *said, 'by = "seller"', ""] if said else []


def _rows(rows: Mapping[str, Value]) -> list[str]:
    return [f"{key} = {_said(value)}" for key, value in rows.items()]


def _said(value: Value) -> str:
    # a JSON text is a TOML basic string, a JSON list of texts a TOML array
    if isinstance(value, str | float | int):
        return json.dumps(value, ensure_ascii=False)
    return json.dumps(list(value), ensure_ascii=False)
