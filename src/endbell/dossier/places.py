"""On which line a table of a TOML file begins.

Neither tomllib nor tomlkit says so publicly: ``[[mark]]`` headers are counted here, past comments
and texts of several lines.  What this can't see: tables written as an inline array
(``mark = [{...}]``); those have a table number and no line.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

Headers = Mapping[str, tuple[int, ...]]

_HEADER = re.compile(
    r"""^[ \t]*(\[\[?)[ \t]*["']?([A-Za-z0-9_-]+)["']?[ \t]*\]\]?[ \t]*(?:\#.*)?$"""
)
_TOKEN = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}'  # a text of several lines, with escapes
    r"|'''.*?'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'"
    r"|\#[^\n]*",
    re.DOTALL,
)


def header_lines(text: str) -> Headers:
    """Lines (from 1) of every ``[[name]]`` and ``[name]`` header, by name, in order of the file.

    >>> header_lines('id = "a"\\n[[mark]]\\n[[mark]]\\n')
    {'mark': (2, 3)}
    """
    found: dict[str, list[int]] = {}
    for number, line in enumerate(_blanked(text).split("\n"), start=1):
        match = _HEADER.match(line.rstrip("\r")) if "[" in line else None
        if match:
            found.setdefault(match[2], []).append(number)
    return {name: tuple(lines) for name, lines in found.items()}


def lines_of(headers: Headers, name: str, count: int) -> tuple[int, ...]:
    """One line a table, or all 0 (not known) where headers and tables don't tally."""
    lines = headers.get(name, ())
    return lines if len(lines) == count else (0,) * count


def _blanked(text: str) -> str:
    """``text`` with texts of several lines emptied: a header quoted in one is not counted."""
    if '"""' not in text and "'''" not in text:
        return text

    def blank(match: re.Match[str]) -> str:
        token = match[0]
        return "\n" * token.count("\n") if "\n" in token else token

    return _TOKEN.sub(blank, text)
