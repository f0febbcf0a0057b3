"""A computed sheet on the terminal: a section a stage, what is off first, what is done folded."""

from __future__ import annotations

from ..bench.gates import StageState, cautions_of
from ..bench.kinds import line_kinds
from ..bench.lines import OFF, SIGNS, Judgement, Line
from ..bench.result import OVERRIDING, SheetResult
from ..report.pen import Pen
from . import bench_words as words

CAUSES_SHOWN = 5
NEXT_SHOWN = 3
HOW_SHOWN = 3
"""Lines still to measure that are told with how; the rest are named. ``--full`` tells all."""


def print_sheet(result: SheetResult, *, full: bool = False) -> None:
    """The sheet on standard output."""
    from rich.text import Text

    from ..report.terminal import STYLES
    from .say import WIDTH, console

    out = console()
    for line in written(result, full=full, width=min(WIDTH, out.width)).lines:
        pieces = ((piece, STYLES[style]) for piece, style in line)
        out.print(Text.assemble(*pieces, no_wrap=True, overflow="ignore"))


def written(result: SheetResult, *, full: bool = False, width: int = 100) -> Pen:
    """The sheet as lines of text."""
    pen = Pen(width, unicode=True)
    _opening(pen, result)
    for number, state in enumerate(result.stages, start=1):
        _stage(pen, result, state, number, full)
    _causes(pen, result)
    _changes(pen, result, full)
    _replaced(pen, result)
    _remarks(pen, result)
    return pen


def _opening(pen: Pen, result: SheetResult) -> None:
    sheet, circuit = result.sheet, result.circuit
    about = [sheet.id, circuit.title, f"limits: {sheet.practice}"]
    about += [sheet.on.isoformat()] if sheet.on else []
    about += [sheet.by] if sheet.by else []
    pen.say(" · ".join(about), style="soft")
    pen.say(words.headline(result), style="strong")
    pen.say(OVERRIDING, style="warn")


def _stage(pen: Pen, result: SheetResult, state: StageState, number: int, full: bool) -> None:
    pen.head(words.stage_head(state, number))
    if state.state == "waits":
        pen.say(words.waits_told(state), first="Waits for ", indent=4)
        early = [h for h in result.held if h.stage is state.stage and h.readings]
        if early:
            names = ", ".join(f"{h.id} at {h.at}" if h.at else h.id for h in early)
            pen.say(f"Taken too early, kept and not judged: {names}.", indent=4)
        return
    lines = words.of_stage(result, state.stage)
    if state.state != "passed" or full or words.to_measure(lines):
        for caution in cautions_of(state.stage):
            pen.say(caution, first="  ! ", indent=4, style="warn")
    for line in lines:
        if line.judgement in OFF or full:
            _whole(pen, line)
    if not full:
        _folded(pen, lines)
    _to_measure(pen, lines, full)
    held = [h for h in result.held if h.stage is state.stage]
    if held:
        waits = dict.fromkeys(words.wait_told(wait) for h in held for wait in h.waits_for)
        names = dict.fromkeys(h.id for h in held)
        pen.say(f"{', '.join(names)}: not before {', '.join(waits)}", first="  … ", indent=4)
    for let in state.overridden:
        at = f" at {let.at}" if let.at else ""
        said = f"{let.line}{at} ({let.judgement.value}), let pass by {let.override.by}: "
        pen.say(said + let.override.reason, first="  → ", indent=4, style="warn")


def _whole(pen: Pen, line: Line) -> None:
    """A line with everything there is to say of it."""
    if line.judgement is Judgement.NOT_MEASURED:
        return
    sign = SIGNS[line.judgement]
    at = f" at {line.at}" if line.at else ""
    head = f"{line.title}{at}: {words.figure(line)}, {line.judgement.value}"
    pen.say(head, first=f"  {sign} ", indent=4, style="strong")
    if line.says:
        pen.say(line.says, first="    ", indent=4)
    if line.bounds:
        pen.say(words.limits_told(line), first="    limits: ", indent=6, style="soft")
    if line.works:
        pen.say(line.works, first="    worked out: ", indent=6, style="soft")


def _folded(pen: Pen, lines: tuple[Line, ...]) -> None:
    """What is done, in as few words as it takes."""
    for judgement, before in (
        (Judgement.WITHIN, "within: "),
        (Judgement.CHECK, "check the standard: "),
        (Judgement.NO_LIMIT, "no limit: "),
    ):
        found = [line for line in lines if line.judgement is judgement]
        if found:
            sign = SIGNS[judgement]
            pen.say(words.folded(found), first=f"  {sign} {before}", indent=4)


def _to_measure(pen: Pen, lines: tuple[Line, ...], full: bool) -> None:
    """What a person can measure now; the first few with how, and their own cautions."""
    todo = words.to_measure(lines)
    kinds = line_kinds()
    first = list(dict.fromkeys(line.id for line in todo))
    told = first if full else first[:HOW_SHOWN]
    for kind in told:
        same = [line for line in todo if line.id == kind]
        at = ", ".join(line.at for line in same if line.at)
        head = f"{kinds[kind].title}{f' at {at}' if at else ''}: {kinds[kind].how}"
        pen.say(head, first=f"  {SIGNS[Judgement.NOT_MEASURED]} ", indent=4)
        if kinds[kind].caution:
            pen.say(kinds[kind].caution, first="    ! ", indent=6, style="warn")
    rest = [line for line in todo if line.id not in told]
    if rest:
        pen.say(words.grouped(rest), first="    then: ", indent=6, style="soft")


def _causes(pen: Pen, result: SheetResult) -> None:
    causes = words.records(result, "causes")
    if causes:
        pen.head("Likely causes")
        pen.say(str(result.diagnosis.get("says") or ""))
        for n, cause in enumerate(causes[:CAUSES_SHOWN], start=1):
            head, says = words.cause_told(cause)
            pen.say(head, first=f"{n:>3} ", indent=4, style="strong" if n == 1 else "")
            if says:
                pen.say(says, first="    ", indent=4, style="soft")
    steps = words.records(result, "next")
    if steps or result.due:
        pen.head("Measure next")
    if result.due:
        pen.say(words.due_told(result), first="  First, what the next step waits for: ", indent=4)
    for n, step in enumerate(steps[:NEXT_SHOWN], start=1):
        head, says, caution = words.next_told(step)
        pen.say(head, first=f"{n:>3} ", indent=4, style="strong" if n == 1 else "")
        if says:
            pen.say(says, first="    ", indent=4, style="soft")
        if caution:
            pen.say(caution, first="    ! ", indent=6, style="warn")


def _changes(pen: Pen, result: SheetResult, full: bool) -> None:
    if not result.changes:
        return
    pen.head("Before and after the repair")
    for change in result.changes:
        if change.word == words.UNCHANGED and not full:
            continue
        was, now = (
            f"{words.figure(side)} ({side.judgement.value})" if side is not None else "–"
            for side in (change.before, change.after)
        )
        said = f"{words.name(change.line)}: {was} → {now}, {change.word}"
        pen.say(said, first="  ", indent=4)
    kept = [change.line for change in result.changes if change.word == words.UNCHANGED]
    if kept and not full:
        pen.say(words.grouped(kept), first=f"  {words.UNCHANGED}: ", indent=4, style="soft")


def _replaced(pen: Pen, result: SheetResult) -> None:
    if not result.sheet.replaced:
        return
    pen.head("Replaced")
    for one in result.sheet.replaced:
        said = one.part + (f" by {one.by_what}" if one.by_what else "")
        said += f": {one.why}" if one.why else ""
        kept = f"the old part is in bag {one.bag}" if one.bag else "the old part is kept"
        said += f" ({kept} for the owner)" if one.kept else ""
        pen.say(said, first="  ", indent=4)


def _remarks(pen: Pen, result: SheetResult) -> None:
    early = [said for said in result.remarks if "let pass by" not in said]
    if early:
        pen.head("To be said")
        for said in early:
            pen.say(said, first="  - ", indent=4)
