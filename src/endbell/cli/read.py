"""``endbell read``: everything one mark can mean, most plausible first."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any

import typer

from . import complete
from .errors import DONE_WITH_REMARKS, CommandError, nearest_sentence
from .options import AsJson, PackDirs, Packs

if TYPE_CHECKING:
    from ..marks import MarkReading, Reading
    from ..reference import Reference
    from ..reference.types import Model
    from .shelf import Shelf

_MOST = 40


def read(
    text: Annotated[
        str,
        typer.Argument(
            metavar="TEXT",
            help=(
                "The mark exactly as seen: ? one unreadable character, [38] one of these, ... "
                "more was there."
            ),
            show_default=False,
        ),
    ],
    kind: Annotated[
        str | None,
        typer.Option(
            "--kind",
            autocompletion=complete.kinds,
            help="The kind of mark [every kind the text fits].",
        ),
    ] = None,
    model: Annotated[
        str | None,
        typer.Option(
            "--model",
            autocompletion=complete.models,
            help="Keep to the years in which this model was made.",
        ),
    ] = None,
    part: Annotated[
        str, typer.Option("--part", help="The part it sits on, such as ot or pot-1.")
    ] = "",
    legibility: Annotated[
        str,
        typer.Option(
            "--legibility", autocompletion=complete.legibilities, help="clear, worn or poor."
        ),
    ] = "clear",
    packs: Packs = None,
    as_json: AsJson = False,
    pack_dir: PackDirs = None,
) -> None:
    """Say everything one mark can mean, most plausible first.

    \b
    Example: endbell read "993-3?8" --model lantern-20 --legibility worn
    """
    from ..dossier.keys import LEGIBILITIES
    from ..marks import KINDS
    from .options import listed, one_of
    from .say import print_json
    from .shelf import Shelf

    if kind is not None:
        one_of("--kind", kind, KINDS)
    one_of("--legibility", legibility, LEGIBILITIES)
    shelf = Shelf(pack_dir)
    named = listed(packs) or (shelf.pack_with_model(model) if model else ())
    reference = shelf.reference(named)
    readings = _readings(text, kind, part, legibility, reference)
    if model:
        readings = [_with_model(r, model, part, shelf, reference) for r in readings]
    if as_json:
        first, *others = [_record(reading, reference) for reading in readings]
        print_json({**first, "model": model, "other_kinds": others})
    else:
        for reading in readings:
            _print(reading, reference)
    if readings[0].misfit is not None:
        raise typer.Exit(DONE_WITH_REMARKS)


def _readings(
    text: str, kind: str | None, part: str, legibility: str, reference: Reference
) -> list[MarkReading]:
    """The text read as ``kind``, or as every kind it fits, the likeliest for that part first."""
    from ..dossier.guess import guess_mark, kinds_that_fit
    from ..dossier.parts import known_ids, known_part
    from ..dossier.reading import seen_of
    from ..dossier.types import Mark
    from ..dossier.values import nearest_words
    from ..marks import read_mark

    known = known_part(part, reference) if part else None
    if part and known is None:
        near = nearest_sentence(nearest_words(part, known_ids(reference)))
        raise CommandError(f"--part {part}: no such part{near}")

    part_class = known.part_class if known else ""

    def as_kind(mark: Mark) -> MarkReading:
        return read_mark(
            seen_of(replace(mark, legibility=legibility), part_class), reference.tables
        )

    if kind == "document":
        return [as_kind(Mark(1, part, kind, date=text))]
    guess = guess_mark(
        1,
        part,
        text,
        reference,
        lambda seen: read_mark(replace(seen, legibility=legibility), reference.tables),
    )
    if kind is not None:
        return [as_kind(guess.mark if guess.mark.kind == kind else Mark(1, part, kind, text))]
    found = [as_kind(guess.mark)]
    others = kinds_that_fit(
        Mark(1, part, "", text, legibility),
        part_class,
        reference,
        lambda seen: read_mark(seen, reference.tables),
    )
    return found + [
        as_kind(Mark(1, part, other, text)) for other in others if other != guess.mark.kind
    ]


def _with_model(
    reading: MarkReading, model: str, part: str, shelf: Shelf, reference: Reference
) -> MarkReading:
    """The readings weighed with all that is known of the model: years, suppliers, lags.

    That is the verdict on a dossier with this one mark, so that both always say the same.
    """
    from ..chronology import weigh
    from ..dossier import Dossier
    from ..dossier.limits import LAST_AS_OF
    from ..dossier.parts import known_part
    from ..dossier.types import Mark
    from ..dossier.values import nearest_words
    from ..marks import Reading

    known = next((m for m in reference.models if m.id == model), None)
    if known is None:
        near = nearest_sentence(nearest_words(model, shelf.model_ids()))
        raise CommandError(f"--model {model}: no pack within reach has that model{near}")
    if reading.misfit is not None or not reading.readings:
        return reading
    sits_on = part or _part_for(reading, known, reference)
    where = known_part(sits_on, reference)
    if where is None:
        return reading
    ends = [run.last for run in known.runs if run.last is not None]
    mark = Mark(1, sits_on, reading.kind, reading.text, reading.legibility)
    dossier = Dossier(
        id="read",
        as_of=min(max(ends, default=date.today()), LAST_AS_OF),
        marks=(mark,),
        parts=(where,),
    )
    weighed = weigh(dossier, reference, {}, models=(model,)).marks[0].readings
    return replace(
        reading,
        readings=tuple(
            Reading(r.p, r.label, r.first, r.last, r.source, spans=r.spans, flags=r.flags)
            for r in weighed
        ),
    )


def _part_for(reading: MarkReading, model: Model, reference: Reference) -> str:
    """The part of the model that bears such a mark, from that source if it names one."""
    source = next((r.source for r in reading.readings if r.source), None)
    made = {supply.part_class for supply in reference.supplies if supply.number == source}
    bearing = [part for part in model.expected if reading.kind in part.kinds]
    from_source = [part for part in bearing if part.part_class in made]
    chosen = (*from_source, *bearing, *model.expected)
    return chosen[0].id if chosen else ""


def _record(reading: MarkReading, reference: Reference) -> dict[str, Any]:
    out: dict[str, Any] = {
        "text": reading.text,
        "kind": reading.kind,
        "legibility": reading.legibility,
        "dating": reading.dating,
        "readings": [_reading_record(r, reference) for r in reading.readings],
        "terms": [
            {
                "term": t.term,
                "not_before": _iso(t.not_before),
                "not_after": _iso(t.not_after),
                "strictness": t.strictness,
                "source": t.source,
            }
            for t in reading.terms
        ],
        "flags": list(reading.flags),
    }
    if reading.value is not None:
        out["value"] = reading.value
    if reading.number is not None:
        out |= {"number": reading.number, "uncertainty": reading.uncertainty}
    if reading.misfit is not None:
        out["misfit"] = {
            "found": reading.misfit.found,
            "accepted": reading.misfit.accepted,
            "nearest": list(reading.misfit.nearest),
        }
    return out


def _reading_record(r: Reading, reference: Reference) -> dict[str, Any]:
    out: dict[str, Any] = {
        "date": r.label,
        "p": float(f"{r.p:.9g}"),
        "first": _iso(r.first),
        "last": _iso(r.last),
    }
    if r.source is not None:
        out["source"] = r.source
        if r.source in reference.tables.sources:
            out["source_name"] = reference.tables.sources[r.source]
    if r.spread_weeks:
        out["spread_weeks"] = r.spread_weeks
    out["facts"] = dict(r.facts)
    out["flags"] = list(r.flags)
    out["spans"] = [
        {"start": s.start, "end": s.end, "group": s.group, "doubtful": s.doubtful} for s in r.spans
    ]
    return out


def _iso(day: Any) -> str | None:
    return day.isoformat() if day is not None else None


def _print(reading: MarkReading, reference: Reference) -> None:
    from ..dossier.limits import visible
    from .say import console, percent, print_table

    title = f"{visible(reading.text) or reading.value or ''} as {reading.kind}"
    if reading.misfit is not None:
        near = f"; nearest: {', '.join(reading.misfit.nearest)}" if reading.misfit.nearest else ""
        console().print(
            f"{title}: {reading.misfit.found}; accepted: {reading.misfit.accepted}{near}"
        )
        return
    rows = [
        (percent(r.p), r.label, _days(r), _source(r, reference), _besides(reading, r))
        for r in reading.readings[:_MOST]
    ]
    for t in reading.terms:
        rows.append(("", t.term, f"{t.not_before or '…'} – {t.not_after or '…'}", "", t.strictness))
    if reading.value is not None and not rows:
        rows.append(("", reading.value, "", "", ""))
    if reading.number is not None and not rows:
        spread = f"± {reading.uncertainty:g}" if reading.uncertainty else ""
        rows.append(("", f"{reading.number:g}", "", "", spread))
    print_table(title, ("weight", "reading", "days", "source", "besides"), rows, right=(0,))
    for flag in reading.flags:
        console().print(flag)
    more = len(reading.readings) - _MOST
    if more > 0:
        console().print(f"and {more} less plausible readings (--json lists them)")


def _besides(reading: MarkReading, r: Reading) -> str:
    """Remarks and facts of a reading; the other ways to count weeks stay in the JSON."""
    facts = () if reading.dating == "week-code" else tuple(f"{k} {v}" for k, v in r.facts)
    return "; ".join((*facts, *r.flags))


def _days(r: Reading) -> str:
    if r.first is None and r.last is None:
        return ""
    return f"{r.first or '…'} – {r.last or '…'}" if r.first != r.last else f"{r.first}"


def _source(r: Reading, reference: Reference) -> str:
    if r.source is None:
        return ""
    name = reference.tables.sources.get(r.source)
    return f"{r.source} {name}" if name else r.source
