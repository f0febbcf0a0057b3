"""The verdict in its contract form (``endbell-verdict/1``): plain dicts, nine significant
digits.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..dossier.problem_json import problem_json
from ..marks import Span
from .verdict import Run, Verdict

FORMAT = "endbell-verdict/1"
DIGITS = 9


def as_json(verdict: Verdict, *, full: bool = False) -> dict[str, Any]:
    """The verdict as a JSON-ready dict; ``full`` adds p of every week.

    Numbers carry nine significant digits, so that the same dossier gives the same text anywhere.
    """
    build = verdict.build
    weeks: dict[str, Any] = {
        "start": build.start,
        "p": _numbers(build.weeks.tolist()) if full else [],
    }
    return {
        "format": FORMAT,
        "dossier": verdict.dossier,
        "file": verdict.file,
        "endbell": verdict.endbell,
        "as_of": verdict.as_of,
        "packs": {p.id: {"version": p.version, "sha256": p.sha256} for p in verdict.packs},
        "assumptions": {k: _number(v) for k, v in sorted(verdict.assumptions.items())},
        "build": {
            "edtf": build.edtf,
            "mode": build.mode,
            "mode_year": build.mode_year,
            "p_mode_year": _number(build.p_mode_year),
            "years": _keyed(build.years),
            "decades": _keyed(build.decades),
            "sets": _sets(build.sets),
            "weeks": weeks,
        },
        "log_evidence": _number(verdict.log_evidence),
        "models": [{"model": m.model, "p": _number(m.p)} for m in verdict.models],
        "parts": {
            p.part: {
                "class": p.part_class,
                "assembly": p.assembly,
                "original": _number(p.original),
                "period_replacement": _number(p.period_replacement),
                "later_replacement": _number(p.later_replacement),
                "word": p.word,
                "stable": p.stable,
            }
            for p in verdict.parts
        },
        "deliveries": [
            {
                "parts": list(d.parts),
                "together": _number(d.together),
                "all_original": _number(d.all_original),
            }
            for d in verdict.deliveries
        ],
        "assemblies": {
            a.assembly: {
                "married": _number(a.married),
                "years": _keyed(a.years),
                "sets": _sets(a.sets),
            }
            for a in verdict.assemblies
        },
        "claim": _claim(verdict),
        "marks": [_mark(m) for m in verdict.marks],
        "conflicts": [
            {"marks": list(c.marks), "p_all_right": _number(c.p_all_right), "says": c.says}
            for c in verdict.conflicts
        ],
        "stable": verdict.stable,
        "unstable": [
            {"assumption": u.assumption, "factor": u.factor, "what": u.what}
            for u in verdict.unstable
        ],
        "next": [
            {
                "check": n.check,
                "title": n.title,
                "part": n.part,
                "level": n.level,
                "minutes": n.minutes,
                "setup_minutes": n.setup_minutes,
                "gain_bits": _number(n.gain_bits),
                "bits_per_minute": _number(n.bits_per_minute),
                "settles": n.settles,
                "caution": n.caution,
                "then_bits": _number(n.then_bits),
                "then": n.then,
            }
            for n in verdict.next
        ],
        "next_says": verdict.next_says,
        "words": [
            {
                "text": s.text,
                "marks": list(s.marks),
                "numbers": {k: _number(v) for k, v in s.numbers.items()},
            }
            for s in verdict.words
        ],
        "cautions": list(verdict.cautions),
        "not_weighed": [problem_json(p) for p in verdict.not_weighed],
        "notes": list(verdict.notes),
    }


def _claim(verdict: Verdict) -> dict[str, Any] | None:
    claim = verdict.claim
    if claim is None:
        return None
    return {
        "p": _number(claim.p),
        "clauses": [{"clause": c.clause, "p": _number(c.p)} for c in claim.clauses],
        "weakest": claim.weakest,
        "not_looked_at": list(claim.not_looked_at),
        "unjudged": list(claim.unjudged),
    }


def _mark(m: Any) -> dict[str, Any]:
    mark = m.mark
    out: dict[str, Any] = {"n": mark.n, "part": mark.part, "kind": mark.kind, "text": mark.text}
    for key in ("feature", "quantity", "unit", "date"):
        if getattr(mark, key) is not None:
            out[key] = getattr(mark, key)
    if mark.value is not None:
        out["value"] = mark.value
    out.update(
        legibility=mark.legibility,
        result=mark.result,
        place=mark.place,
        photos=list(mark.photos),
        weighed=m.weighed,
        readings=[_reading(r) for r in m.readings],
        influence_bits=_number(m.influence_bits),
        conflict=_number(m.conflict),
    )
    return out


def _reading(r: Any) -> dict[str, Any]:
    out: dict[str, Any] = {"date": r.label, "p": _number(r.p)}
    if r.source is not None:
        out["source"] = r.source
        if r.source_name:
            out["source_name"] = r.source_name
    if r.first is not None:
        out["first"] = r.first.isoformat()
    if r.last is not None:
        out["last"] = r.last.isoformat()
    if r.spans:
        out["spans"] = [_span(s) for s in r.spans]
    if r.flags:
        out["flags"] = list(r.flags)
    return out


def _span(s: Span) -> dict[str, Any]:
    return {"start": s.start, "end": s.end, "group": s.group, "doubtful": s.doubtful}


def _sets(sets: Mapping[str, Sequence[Run]]) -> dict[str, list[list[Any]]]:
    return {level: [[a, b, _number(p)] for a, b, p in runs] for level, runs in sets.items()}


def _keyed(values: Mapping[int, float]) -> dict[str, float | None]:
    return {str(k): _number(v) for k, v in values.items()}


def _numbers(values: Sequence[float]) -> list[float | None]:
    return [_number(v) for v in values]


def _number(value: float | None) -> float | None:
    if value is None or value != value:
        return None
    return float(f"{value:.{DIGITS}g}")
