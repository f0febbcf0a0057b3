"""Writes docs/assumptions.md: every assumption in force without a maker's pack, with its source.

``python tools/assumptions_table.py`` writes the page; a test says whether the one there is current.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from pathlib import Path

from endbell.reference import Assumption, load_reference

PAGE = Path(__file__).parents[1] / "docs" / "assumptions.md"

HEAD = """\
# Assumptions

Made by `make docs` from the packs that always apply; don't edit this page.

Every number that the model takes for granted has a name, and stands with its value in every
verdict. To use another one for a single run:

```sh
endbell weigh amp.toml --assume replaced.loudspeaker.probability=0.5
```

To use another one always, write a row `assumption` in a pack of your own ([packs.md](packs.md)).
What each does in the equations is in [model.md](model.md). 'common practice, no source' means just
that: a figure that people in the trade would not quarrel with, and that nobody has counted.
"""


def page(assumptions: Iterable[Assumption]) -> str:
    """The page as text; rows in the order of the packs, a heading for each first word of a name."""
    parts = [HEAD]
    for word, rows in groupby(_by_first_word(assumptions), key=_first_word):
        parts.append(f"\n## {word}\n\n| name | value | unit | what it is | source |\n")
        parts.append("| --- | ---: | --- | --- | --- |\n")
        parts.extend(_row(assumption) for assumption in rows)
    return "".join(parts)


def current() -> str:
    """The page as it should be now."""
    reference, _ = load_reference(())
    return page(reference.assumptions.values())


def _by_first_word(assumptions: Iterable[Assumption]) -> list[Assumption]:
    order: dict[str, int] = {}
    rows = list(assumptions)
    for row in rows:
        order.setdefault(_first_word(row), len(order))
    return sorted(rows, key=lambda row: order[_first_word(row)])


def _first_word(assumption: Assumption) -> str:
    return assumption.name.partition(".")[0]


def _row(row: Assumption) -> str:
    source = row.source
    if row.confidence != row.source:
        source += f"; {row.confidence}"
    cells = (f"`{row.name}`", f"{row.value:g}", row.unit, row.words, source)
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |\n"


if __name__ == "__main__":
    PAGE.write_text(current(), encoding="utf-8")
    print(f"written: {PAGE.relative_to(Path.cwd()) if PAGE.is_relative_to(Path.cwd()) else PAGE}")
