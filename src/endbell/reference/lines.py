"""Where in a TOML file a row stands.

TOML parsers give no line numbers, so the ``[[table]]`` headers are counted. What this can't see:
rows written as inline tables (``table = [{...}]``), and a header quoted in a multi-line text.
"""

from __future__ import annotations

import re

_HEADER = re.compile(r"^\s*\[\[?\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")


def row_line(text: str, table: str, number: int, key: str | None = None) -> int | None:
    """Line of the ``number``-th ``[[table]]`` (from 1), or of ``key`` within it if it is there.

    >>> row_line("id = 1\\n[[run]]\\na = 1\\n[[run]]\\na = 2", "run", 2, "a")
    5
    """
    seen = 0
    header: int | None = None
    wanted = re.compile(rf"^\s*[\"']?{re.escape(key)}[\"']?\s*=") if key else None
    for n, line in enumerate(text.splitlines(), start=1):
        found = _HEADER.match(line)
        if found:
            if header is not None:
                return header
            if found[1].strip("\"'") == table:
                seen += 1
                header = n if seen == number else None
        elif header is not None and wanted is not None and wanted.match(line):
            return n
    return header
