"""Blank readings in the order of the work, cautions in place: a new sheet, and what comes next.

A new sheet has what is measured unplugged and no more: what needs power is offered once the lines
before it have passed.
"""

from __future__ import annotations

from textwrap import wrap

from .circuit import Circuit
from .gates import cautions_of, is_powered
from .kinds import line_kinds
from .lines import Judgement, Line
from .readings import Bench
from .result import OVERRIDING, SheetResult
from .sheet_keys import FORMAT_NAME, FORMAT_NUMBER
from .stages import Stage
from .subjects import all_lines
from .telling import shown

_WIDTH = 96


def blank_sheet(
    circuit: Circuit, name: str, sheet_id: str, practice: str = "iec", dossier: str = ""
) -> str:
    """The text of a sheet with every reading of the unplugged amp, commented out.

    ``name``: the circuit as a sheet names it, 'brackwater/lantern-20'.  A reading counts once its
    ``#`` are taken away and a value is written.
    """
    kinds = line_kinds()
    bench = Bench(circuit=circuit, readings=(), kinds=kinds, practice=practice)
    wanted = [x for x in all_lines(bench) if kinds[x.id].measured and not is_powered(kinds[x.id])]
    out = [
        f'format = "{FORMAT_NAME}/{FORMAT_NUMBER}"',
        f'id = "{sheet_id}"',
        f'dossier = "{dossier}"' if dossier else '# dossier = ""',
        f'circuit = "{name}"',
        f'practice = "{practice}"',
        "# on = 2026-03-04",
        '# by = ""',
        '# ambient = "20 °C"',
        "",
        *_comment(OVERRIDING),
        *_comment(
            "Take the # away from a reading and write what the meter shows, with its unit. A line "
            'that can\'t be measured: result = "not-possible" and a note. After the repair: after '
            "= true."
        ),
    ]
    out += _by_stage(wanted)
    out += [
        "",
        *_comment(
            "What needs power comes when all of this has passed: endbell bench SHEET says so, and "
            "endbell bench SHEET --blank gives the readings that may be taken then."
        ),
    ]
    return "\n".join(out) + "\n"


def blank_readings(result: SheetResult) -> str:
    """Every reading that may be taken now and has not been, commented out; what gates wait for
    comes first."""
    kinds = line_kinds()
    wanted = [
        line
        for line in result.lines
        if kinds[line.id].measured and line.judgement is Judgement.NOT_MEASURED
    ]
    due = set(result.due)
    first = [line for line in wanted if (line.id, line.at) in due]
    rest = [line for line in wanted if (line.id, line.at) not in due]
    out = _comment(OVERRIDING) + _by_stage(first) + _by_stage(rest)
    return "\n".join(out) + "\n"


def _by_stage(lines: list[Line]) -> list[str]:
    out: list[str] = []
    for number, stage in enumerate(Stage, start=1):
        same = [line for line in lines if line.stage is stage]
        if not same:
            continue
        out += ["", f"# ---- {number}. {stage.value} ".ljust(_WIDTH, "-"), ""]
        for caution in cautions_of(stage):
            out += _comment(f"CAUTION: {caution}")
        said: set[str] = set()
        for line in same:
            out += _reading(line, line.id not in said)
            said.add(line.id)
    return out


def _reading(line: Line, first: bool) -> list[str]:
    """One commented reading; how it is measured stands at the first of its kind."""
    kind = line_kinds()[line.id]
    out = [""]
    if first:
        out += _comment(f"{kind.title}. {kind.how}".strip())
        out += _comment(f"CAUTION: {kind.caution}") if kind.caution else []
    about = "" if line.expected is None else f"  # about {shown(line.expected, line.unit)}"
    out += ["# [[reading]]", f'# line = "{line.id}"']
    out += [f'# at = "{line.at}"'] if line.at else []
    out += [f'# value = ""{about}']
    return out


def _comment(text: str) -> list[str]:
    return [f"# {piece}" for piece in wrap(text, _WIDTH - 2)]
