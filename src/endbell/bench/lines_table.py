"""The table of all lines in the guide, made from their kinds.

``python -m endbell.bench.lines_table docs/bench.md`` writes it there, between two markers; a test
says whether it is current.
"""

from __future__ import annotations

import sys
from pathlib import Path

from .gates import is_powered
from .kinds import line_kinds
from .stages import Stage

BEGIN = "<!-- lines: made by python -m endbell.bench.lines_table docs/bench.md -->"
END = "<!-- end of lines -->"


def lines_table() -> str:
    """Every kind of line by stage: id, what it is, where, how, and its caution."""
    out: list[str] = []
    for stage in Stage:
        out += [
            f"### Lines: {stage.value}",
            "",
            "| line | what it is | how |",
            "| --- | --- | --- |",
        ]
        for kind in line_kinds().values():
            if kind.stage is not stage:
                continue
            at = f", at each {kind.per}" if kind.per else ""
            power = ", **mains on**" if is_powered(kind) else ""
            read = "" if kind.measured else " (worked out)"
            caution = f" **Caution:** {kind.caution}" if kind.caution else ""
            title = f"{kind.title}{at}, {_unit(kind.unit)}{power}{read}"
            out.append(f"| `{kind.id}` | {_cell(title)} | {_cell(kind.how + caution)} |")
        out.append("")
    return "\n".join(out)


def with_table(page: str) -> str:
    """``page`` with its table of lines made anew; raises ValueError where it has no markers."""
    before, begin, rest = page.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        raise ValueError("the page has no markers for the table of lines")
    return f"{before}{BEGIN}\n\n{lines_table()}\n{END}{after}"


def _unit(unit: str) -> str:
    return {"1": "a number", "ohm": "Ω"}.get(unit, unit)


def _cell(text: str) -> str:
    return text.replace("|", "\\|").strip() or "–"


def main() -> None:
    """Write the table into the page named on the command line."""
    page = Path(sys.argv[1])
    page.write_text(with_table(page.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
