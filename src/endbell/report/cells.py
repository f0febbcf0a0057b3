"""How wide a text stands: columns of a terminal, or characters of a monospaced line."""

from __future__ import annotations

import unicodedata


def width_of(text: str) -> int:
    """Columns the text takes: wide characters two, combining ones none.

    >>> width_of("993"), width_of("部品"), width_of("e\\u0301")
    (3, 4, 1)
    """
    return sum(_cell(c) for c in text)


def cut(text: str, width: int, dots: str = "…") -> str:
    """The text, shortened to ``width`` columns with dots where something is left out.

    >>> cut("992-6405", 6), cut("992-6405", 8)
    ('992-6…', '992-6405')
    """
    if width_of(text) <= width:
        return text
    return taken(text, width - width_of(dots)) + dots


def taken(text: str, width: int) -> str:
    """The longest beginning of the text that is at most ``width`` columns wide."""
    total = 0
    for i, c in enumerate(text):
        total += _cell(c)
        if total > width:
            return text[:i]
    return text


def padded(text: str, width: int) -> str:
    """The text, cut or filled with blanks to exactly ``width`` columns."""
    said = cut(text, width)
    return said + " " * (width - width_of(said))


def wrapped(text: str, width: int) -> list[str]:
    """Lines of at most ``width`` columns, broken at blanks, and inside words that are longer.

    >>> wrapped("one two three", 7)
    ['one two', 'three']
    """
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        if line and width_of(line) + 1 + width_of(word) > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}" if line else word
        while width_of(line) > width:
            head = taken(line, width) or line[0]
            lines.append(head)
            line = line[len(head) :]
    return [*lines, line]


def _cell(c: str) -> int:
    if unicodedata.category(c) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(c) in ("W", "F") else 1
