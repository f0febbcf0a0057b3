"""Lines computed from the readings that may count: power before safety counts for nothing.

Readings are let in step by step: first those that wait for nothing, then those whose lines have
passed by what is in already, until no more come.  So a reading taken too early can neither be
judged nor open a gate.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

from .gates import Gatekeeper, is_powered, needs_of, needs_of_stage
from .kinds import line_kinds, line_subjects
from .lines import Judgement, Line, LineKind
from .plain_line import plain_line
from .readings import Bench, Reading, Recording
from .sheet_types import Override
from .stages import ORDER, Stage
from .subjects import SUBJECTS, lines_of_subject

Impossible = tuple[tuple[Reading, str], ...]


@dataclass(frozen=True, slots=True)
class Reckoned:
    """``lines``: all of them; ``keeper``: which may be shown; ``bench``: what they rest on."""

    lines: tuple[Line, ...]
    keeper: Gatekeeper
    bench: Bench


def reckon(
    bench: Bench,
    overrides: tuple[Override, ...],
    impossible: Impossible = (),
    *,
    repaired: bool = False,
) -> Reckoned:
    """Every line of ``bench``, from the readings and recordings that may count.

    ``impossible``: readings that can't be, with the sentence why; their lines say so.
    ``repaired``: lines that a repair calls for again count only where they were repeated.
    """
    rounds = _Rounds(bench, overrides, impossible, repaired)
    let_in = tuple(r for r in bench.readings if not needs_of(bench.kinds[r.line]))
    for stage in (Stage.DC, Stage.AUDIO):
        subjects = _gate_subjects(stage)
        while True:  # each round lets in one reading more at least, or is the last
            found = rounds.look(let_in, subjects)
            more = _allowed(bench, found.keeper, let_in, up_to=stage)
            if more == let_in:
                break
            let_in = more
    sound = bool(bench.recordings) and _may_listen(found.keeper)
    return rounds.look(let_in, SUBJECTS, sound=sound, last=True)


class _Rounds:
    """Looks at a bench with more and more of its readings let in.

    While they are let in, a subject is computed anew only where one of its own readings is new: it
    opens no gate by another's.  The last look computes every subject from everything that is in.
    """

    def __init__(
        self,
        bench: Bench,
        overrides: tuple[Override, ...],
        impossible: Impossible,
        repaired: bool,
    ) -> None:
        self._bench = bench
        self._overrides = overrides
        self._impossible = impossible
        self._repeated = tuple(r for r in bench.readings if r.after) if repaired else None
        self._kept: dict[str, tuple[tuple[Reading, ...], tuple[Line, ...]]] = {}

    def look(
        self,
        readings: tuple[Reading, ...],
        subjects: tuple[str, ...],
        *,
        sound: bool = False,
        last: bool = False,
    ) -> Reckoned:
        """The lines of ``subjects`` from ``readings``, and from recordings of the amp playing where
        it may ``sound``."""
        whole = self._bench
        recordings = whole.recordings if sound else _unpowered(whole.recordings)
        inside = replace(whole, readings=readings, recordings=recordings)
        for subject in subjects:
            before, _ = self._kept.get(subject, (None, ()))
            if before is None or (sound and last) or self._anew(subject, before, readings, last):
                self._kept[subject] = (readings, lines_of_subject(subject, inside))
        lines = [line for subject in subjects for line in self._kept[subject][1]]
        if last:
            told = {(line.id, line.at) for line in lines}
            # a reading that no subject asks for is shown as it is, never dropped without a word
            rest = dict.fromkeys((r.line, r.at) for r in readings if (r.line, r.at) not in told)
            lines += [plain_line(inside, line, at) for line, at in rest]
        told = _told(lines, whole.kinds, inside, self._impossible)
        keeper = Gatekeeper(whole.kinds, told, self._overrides, whole.circuit, self._repeated)
        return Reckoned(told, keeper, inside)

    @staticmethod
    def _anew(
        subject: str, before: tuple[Reading, ...], readings: tuple[Reading, ...], last: bool
    ) -> bool:
        if last:
            return before != readings
        known, subjects = {id(r) for r in before}, line_subjects()
        return any(id(r) not in known and subjects[r.line] == subject for r in readings)


def _allowed(
    bench: Bench, keeper: Gatekeeper, before: tuple[Reading, ...], up_to: Stage
) -> tuple[Reading, ...]:
    """The readings that may count now, those of ``before`` with them, in the order of the sheet."""
    reached = ORDER[: ORDER.index(up_to) + 1]
    inside = {id(reading) for reading in before}
    return tuple(
        r
        for r in bench.readings
        if id(r) in inside or (bench.kinds[r.line].stage in reached and not keeper.waits(r.line))
    )


def _may_listen(keeper: Gatekeeper) -> bool:
    """Whether the amp may play: every powered line of the audio stage waits for nothing more."""
    return not any(
        keeper.waits(kind.id)
        for kind in keeper.kinds.values()
        if kind.stage is Stage.AUDIO and kind.powered
    )


def _unpowered(recordings: tuple[Recording, ...]) -> tuple[Recording, ...]:
    """Recordings for which the amp need not run: an impedance curve of the loudspeaker."""
    return tuple(r for r in recordings if r.kind == "impedance")


@cache
def _gate_subjects(last: Stage) -> tuple[str, ...]:
    """Subjects whose lines the gates up to ``last`` wait for: the others need not be computed while
    readings are let in."""
    subjects, reached = line_subjects(), ORDER[: ORDER.index(last) + 1]
    needs = {need.line for need in needs_of_stage(last)}
    needs |= {
        need for kind in line_kinds().values() if kind.stage in reached for need in kind.needs
    }
    asked = {subjects[need] for need in needs if need in subjects}
    return tuple(subject for subject in SUBJECTS if subject in asked)


def _told(
    lines: list[Line],
    kinds: Mapping[str, LineKind],
    bench: Bench,
    impossible: Impossible,
) -> tuple[Line, ...]:
    """Lines with what only the sheet knows: readings that cannot be, and those not possible."""
    out = list(lines)
    where = {(line.id, line.at): n for n, line in enumerate(out)}
    for reading, why in impossible:
        last = max(
            (r.n for r in bench.readings if (r.line, r.at) == (reading.line, reading.at)), default=0
        )
        if last > reading.n:  # measured again since, and well
            continue
        kind = kinds[reading.line]
        blank = Line(kind.id, kind.title, kind.stage, kind.unit, None, Judgement.NOT_MEASURED)
        n = where.get((reading.line, reading.at))
        line = replace(
            blank if n is None else out[n],
            at=reading.at,
            value=reading.value,
            judgement=Judgement.IMPOSSIBLE,
            bounds=(),
            says=why,
            readings=(reading.n,),
            caution=kind.caution,
        )
        if n is None:
            where[(line.id, line.at)] = len(out)
            out.append(line)
        else:
            out[n] = line
    for reading in bench.readings:
        n = where.get((reading.line, reading.at))
        if reading.result == "not-possible" and n is not None and out[n].value is None:
            says = f"Not possible: {reading.note.strip().rstrip('.')}."
            out[n] = replace(out[n], says=says, readings=(reading.n,))
    return tuple(sorted(out, key=lambda line: ORDER.index(line.stage)))


def held_kinds(keeper: Gatekeeper) -> frozenset[str]:
    """Ids of the kinds whose lines may not be shown."""
    return frozenset(kind for kind in keeper.kinds if keeper.waits(kind))


def powered_reading_after(bench: Bench) -> bool:
    """Whether the amp was measured with power on after the repair."""
    return any(r.after for r in bench.recordings) or any(
        r.after and is_powered(bench.kinds[r.line]) for r in bench.readings
    )
