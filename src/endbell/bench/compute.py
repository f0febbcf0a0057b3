"""A sheet computed: lines, gates, causes, what is next, before and after."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any, cast

from ..dossier.types import Problem
from .before_after import Change, compare
from .bench_places import misplaced, placed
from .circuit import Circuit
from .gates import Gatekeeper, cautions_of
from .kinds import line_kinds
from .lines import Judgement, Line
from .readings import Bench, Reading, Recording
from .reckoning import Impossible, Reckoned, powered_reading_after, reckon
from .result import OVERRIDING, Held, SheetResult
from .sheet_types import Sheet
from .stages import Stage


def compute(
    sheet: Sheet,
    circuit: Circuit,
    *,
    parts_original: Mapping[str, float] | None = None,
    parts_year: Mapping[str, int] | None = None,
) -> SheetResult:
    """Every line of ``sheet`` that may be shown, with limits, causes and the next measurement.

    ``parts_original``: probability that a part of the dossier is original, ``parts_year``: its
    likeliest year, where the dossier was weighed.  Same arguments, same result; nothing is written
    and no clock is looked at.  Recordings are read from beside the sheet's file.
    """
    problems: list[Problem] = []
    readings = _placed(sheet.readings, circuit, sheet.file, problems)
    impossible = tuple(
        (placed(reading, line_kinds()[reading.line], circuit), why)
        for reading, why in sheet.impossible
    )
    whole = Bench(
        circuit=circuit,
        # those after the repair last: the last reading of a line and place is the one that counts
        readings=tuple(sorted(readings, key=lambda r: r.after)),
        kinds=line_kinds(),
        practice=sheet.practice,
        ambient=sheet.ambient,
        recordings=_recordings(sheet, problems),
        parts_original=parts_original or {},
        parts_year=parts_year or {},
    )
    repaired = powered_reading_after(whole)
    now = reckon(_present(whole), sheet.overrides, impossible, repaired=repaired)
    lines, held = _parted(now, whole, impossible)
    return SheetResult(
        sheet=sheet,
        circuit=circuit,
        lines=lines,
        held=held,
        stages=now.keeper.stages(),
        due=now.keeper.due(),
        changes=_changes(whole, sheet, impossible, lines),
        diagnosis=_diagnosed(lines, now),
        problems=(*sheet.problems, *problems, *_unusable(now.bench, sheet.file)),
        remarks=_remarks(sheet, held, repaired),
        cautions=(OVERRIDING, *(c for stage in Stage for c in cautions_of(stage))),
    )


def _placed(
    readings: tuple[Reading, ...], circuit: Circuit, file: str, problems: list[Problem]
) -> list[Reading]:
    kinds = line_kinds()
    out: list[Reading] = []
    for reading in readings:
        kind = kinds[reading.line]
        at_home = placed(reading, kind, circuit)
        problem = misplaced(at_home, kind, circuit, file)
        if problem is None:
            out.append(at_home)
        else:
            problems.append(problem)
    return out


def _recordings(sheet: Sheet, problems: list[Problem]) -> tuple[Recording, ...]:
    """Recordings with their files beside the sheet; what lies elsewhere is not followed."""
    folder = Path(sheet.file).parent
    out: list[Recording] = []
    for recording in sheet.recordings:
        path = folder / recording.file
        if Path(recording.file).is_absolute() or ".." in Path(recording.file).parts:
            found = f'file is "{recording.file}"'
            wanted = "a file beside the sheet or in a folder below it"
        elif not path.is_file():
            found, wanted = f'there is no file "{recording.file}"', f"a file in {folder}"
        else:
            out.append(replace(recording, file=str(path)))
            continue
        problems.append(Problem(sheet.file, recording.n, None, found, wanted, "recording"))
    return tuple(out)


def _unusable(bench: Bench, file: str) -> list[Problem]:
    """Recordings that nothing can be measured from: silent, clipped by the converter, cut short."""
    if not bench.recordings:
        return []
    from .audio.errors import RecordingError
    from .audio.recorded import measured, pair_of

    out: list[Problem] = []
    for recording in bench.recordings:
        try:  # kept from the computation of the lines: nothing is read twice
            _ = pair_of(recording) if recording.kind == "impedance" else measured(recording)
        except RecordingError as error:
            found = f"{Path(recording.file).name}: {error.found}"
            out.append(Problem(file, recording.n, None, found, error.accepted, "recording"))
    return out


def _present(bench: Bench) -> Bench:
    """The amp as it is now: recordings after the repair stand for earlier ones of their kind."""
    again = {r.kind for r in bench.recordings if r.after}
    kept = tuple(r for r in bench.recordings if r.after or r.kind not in again)
    return replace(bench, recordings=kept)


def _parted(
    now: Reckoned, whole: Bench, impossible: Impossible
) -> tuple[tuple[Line, ...], tuple[Held, ...]]:
    """Lines that may be shown, and those that may not with what they wait for."""
    lines: list[Line] = []
    held: list[Held] = []
    every = (*whole.readings, *(reading for reading, _ in impossible))
    for line in now.lines:
        waits = now.keeper.waits(line.id)
        if not waits:
            lines.append(line)
            continue
        taken = tuple(r.n for r in every if (r.line, r.at) == (line.id, line.at))
        held.append(Held(line.id, line.at, line.title, line.stage, waits, taken))
    told = {(h.id, h.at) for h in held} | {(x.id, x.at) for x in lines}
    for reading in every:  # readings of lines that no subject asks for
        waits = now.keeper.waits(reading.line)
        if waits and (reading.line, reading.at) not in told:
            kind = whole.kinds[reading.line]
            held.append(Held(kind.id, reading.at, kind.title, kind.stage, waits, (reading.n,)))
            told.add((reading.line, reading.at))
    return tuple(lines), tuple(held)


def _changes(
    whole: Bench, sheet: Sheet, impossible: Impossible, lines: tuple[Line, ...]
) -> tuple[Change, ...]:
    repeated = frozenset((r.line, r.at) for r in whole.readings if r.after)
    if not repeated and not any(r.after for r in whole.recordings):
        return ()
    first = replace(
        whole,
        readings=tuple(r for r in whole.readings if not r.after),
        recordings=tuple(r for r in whole.recordings if not r.after),
    )
    then = tuple((reading, why) for reading, why in impossible if not reading.after)
    was = reckon(first, sheet.overrides, then)
    shown = tuple(line for line in was.lines if not was.keeper.waits(line.id))
    return compare(shown, lines, repeated)


def _remarks(sheet: Sheet, held: tuple[Held, ...], repaired: bool) -> tuple[str, ...]:
    out: list[str] = []
    early = [h for h in held if h.readings]
    for one in early:
        numbers = ", ".join(str(n) for n in one.readings)
        waits = ", ".join(dict.fromkeys(wait.line for wait in one.waits_for))
        where = f" at {one.at}" if one.at else ""
        out.append(
            f"{one.id}{where}: taken before its safety lines passed (reading {numbers}); kept, not "
            f"judged; it waits for {waits}"
        )
    if repaired and any(
        wait.judgement is Judgement.NOT_MEASURED for h in held for wait in h.waits_for
    ):
        out.append(
            "After a repair the safety lines are measured again, marked after = true, before the "
            "amp is powered."
        )
    for override in sheet.overrides:
        what = override.line or f"stage {override.stage}"
        where = f" at {override.at}" if override.at else ""
        out.append(f"{what}{where} was let pass by {override.by}: {override.reason}")
    return tuple(out)


def _diagnosed(lines: tuple[Line, ...], now: Reckoned) -> Mapping[str, object]:
    """Causes and the next measurement, from the lines that may be shown and no others."""
    package = f"{__package__}.causes"
    if find_spec(package) is None or find_spec(f"{package}.on_sheet") is None:
        return {}
    causes: Any = import_module(f"{package}.on_sheet")
    found = causes.diagnose(lines, now.bench, open_stages(now.keeper))
    return cast("Mapping[str, object]", causes.as_json(found))


def open_stages(keeper: Gatekeeper) -> frozenset[Stage]:
    """The stages that may be worked in now. Safety counts as open; its powered lines wait each."""
    return frozenset(state.stage for state in keeper.stages() if state.state != "waits")
