"""``python -m endbell.bench.valves.table``: how near the models are to the data books, as a page.

Prints ``docs/valve_models.md``; with ``--misfits`` the table ``data/valves/misfit.csv`` instead.
Every figure is worked out anew from the data files; nothing is tuned.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from math import log

from .misfit import (
    CURRENT_WITHIN,
    GAIN_WITHIN,
    WATT_WITHIN,
    Miss,
    book_points,
    coupled_stages,
    root_mean,
    still_points,
    typical_operation,
)
from .models import model, models
from .ratings import rating_systems

_HEAD = """\
# The valve models against the data books

Made by `python -m endbell.bench.valves.table > docs/valve_models.md`. Do not edit.

The bench works out what a valve should draw from published parameter sets in the equations of
Koren (1996). This page holds those sets against the data books, row by row. No parameter was
tuned: where a set misses, it is listed as missing, and the size of its misses goes into the spread
of every figure that is worked out with it.

Tolerances, stated beforehand: currents, gm and rp {current:.0%}; power {watt:.0%}; stage gain
{gain:.0%}. Makers' own limits for a new valve's plate current were wider (common practice, no
source). Rows marked *memory* stand in our tables from memory and were not checked against a page.

## Which set is used

Where a type has several sets, the one marked *used* has the smallest misfit: the root mean square
of ln(model/book) of the plate current without signal, over the rows that a data book gives.
"""

_WHY = """
## What the misses have in common

- **Low current.** The author's set for the 12AX7 gives a fifth of the printed current at 100 V and
  −1 V: his fit was made at high current and has no contact potential. The later set, which adds
  0.5 V to the grid, does not miss there. Output valves biased far back (class B rows) miss for the
  same reason, in both directions.
- **Plate resistance of pentodes.** The arctangent knee levels off more than a real plate curve
  does: rp comes out 1.5 to 4 times too high throughout. Never use it to judge an output valve.
- **Screen current.** One term, a power of grid and screen voltage, which does not know the plate:
  it is off by a factor of two either way, reads zero where the book still has a few milliamperes,
  and does not rise when the plate swings low. The bench therefore takes the screen's share from a
  measured voltage over the screen resistor, or from the data book's row, before the model's.
- **Power at full drive.** Worked out with bias and screen voltage held at their values without
  signal, and the grid driven to 0 V. Rows with a cathode resistor or a screen resistor lose bias
  and screen voltage under drive, which the book's figure holds and ours does not: those come out
  too high. A row with the grid driven positive (AB2) is not worked out at all.
- **The chart of resistance-coupled stages at 90 V**: the gain of the later set comes out too high
  where the current is a tenth of a milliampere.
"""


def page() -> str:
    """The whole of ``docs/valve_models.md``."""
    parts = [
        _HEAD.format(current=CURRENT_WITHIN, watt=WATT_WITHIN, gain=GAIN_WITHIN),
        _sets(),
        _WHY,
        _systems(),
        "\n## Single points of the data sheets\n",
        _rows(book_points()),
        "\n## Typical operation of output stages\n\nCurrents are of all valves of the stage.\n",
        _rows(typical_operation()),
        "\n## Resistance-coupled stages\n",
        _rows(coupled_stages()),
    ]
    return "\n".join(parts) + "\n"


def misfits() -> str:
    """``data/valves/misfit.csv``: plate current of one valve without signal, book and model."""
    lines = ["type,set,row,book_A,model_A,source,confidence"]
    for one in sorted(still_points(), key=lambda p: (p.type, p.set)):
        book, ours = one.book / one.valves, one.ours / one.valves
        row = one.row.replace(",", "")
        lines.append(f"{one.type},{one.set},{row},{book:.5g},{ours:.5g},{_SOURCE},computed")
    return "\n".join(lines) + "\n"


_SOURCE = "model of models.csv at the points of test_points.csv and typical_operation.csv"


def _sets() -> str:
    lines = [
        "| type | set | used | misfit | points | source |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for one in models():
        logs = [log(p.ratio) for p in still_points() if (p.type, p.set) == (one.type, one.name)]
        used = "used" if model(one.type).name == one.name else ""
        shown = f"{root_mean(logs):.3f}" if logs else "no row to judge by"
        note = f"{one.source}{'; ' if one.note else ''}{one.note}"
        lines.append(f"| {one.type} | {one.name} | {used} | {shown} | {len(logs)} | {note} |")
    return "\n".join(lines) + "\n"


def _systems() -> str:
    lines = [
        "\n## What a rating allows\n",
        "A maximum rating means another thing in each system. The bench holds each where it",
        "counts, and brings a reading taken on today's mains there: volts in proportion to the",
        "mains, watts with its square.\n",
        "| system | for what | held at | source |",
        "| --- | --- | --- | --- |",
    ]
    for one in rating_systems().values():
        held = "nominal mains" if one.mains == 1.0 else f"mains {one.mains - 1.0:.0%} high"
        lines.append(f"| {one.title} | {one.meaning} | {held} | {one.source} |")
    return "\n".join(lines) + "\n"


def _rows(misses: Iterable[Miss]) -> str:
    misses = tuple(misses)
    used = [one for one in misses if model(one.type).name == one.set]
    good = sum(one.reproduced for one in used)
    lines = [
        f"{good} of {len(used)} figures reproduced by the sets in use "
        f"({sum(one.reproduced for one in misses)} of {len(misses)} by all sets).\n",
        "### Misses\n",
        *_table(one for one in misses if not one.reproduced),
        "\n### Reproduced\n",
        *_table(one for one in misses if one.reproduced),
    ]
    return "\n".join(lines) + "\n"


def _table(misses: Iterable[Miss]) -> list[str]:
    lines = [
        "| type | set | row | figure | book | model | model/book | |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for one in misses:
        what, unit, scale = _SHOWN[one.what]
        memory = "memory" if one.confidence == "from memory" else ""
        used = "**" if model(one.type).name == one.set else ""
        cells = (
            one.type,
            f"{used}{one.set}{used}",
            one.row,
            what,
            f"{one.book * scale:.4g} {unit}".strip(),
            f"{one.ours * scale:.4g} {unit}".strip(),
            f"{one.ratio:.2f}",
            memory,
        )
        lines.append(f"| {' | '.join(cells)} |")
    return lines


_SHOWN = {
    "plate A": ("plate current", "mA", 1e3),
    "screen A": ("screen current", "mA", 1e3),
    "full-drive plate A": ("plate current at full drive", "mA", 1e3),
    "full-drive W": ("power", "W", 1.0),
    "gm S": ("gm", "mA/V", 1e3),
    "rp ohm": ("rp", "kohm", 1e-3),
    "gain": ("gain", "", 1.0),
}

if __name__ == "__main__":
    sys.stdout.write(misfits() if "--misfits" in sys.argv[1:] else page())
