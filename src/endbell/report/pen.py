"""Lines of text for a terminal: styled pieces that fit a width, in Unicode or plain ASCII."""

from __future__ import annotations

from dataclasses import dataclass, field

from .cells import cut, padded, width_of, wrapped
from .markup import visible

Piece = tuple[str, str]
"""A stretch of text and its style: '', 'strong', 'soft', 'head' or 'warn'."""

Line = tuple[Piece, ...]

PLAIN = {
    "·": "-", "–": "-", "…": "...", "×": "x", "±": "+-", "→": "->", "←": "<-", "“": '"', "”": '"',
    "‘": "'", "’": "'", "−": "-", "—": "-",
}  # fmt: skip
"""What stands for a sign of our own where only ASCII can be shown; anything else is escaped."""


@dataclass
class Pen:
    """Collects lines no wider than ``width`` columns."""

    width: int
    unicode: bool
    lines: list[Line] = field(default_factory=list[Line])

    def plain(self, text: str) -> str:
        """The text as this terminal can show it, on one line, with nothing that acts on it.

        Where only ASCII can be shown other characters become ``\\uXXXX``: still what was typed.
        """
        shown = visible(text)
        if self.unicode:
            return shown
        return "".join(c if c.isascii() else PLAIN.get(c, _escaped(c)) for c in shown)

    def cut(self, text: str, width: int) -> str:
        """The text shortened to ``width`` columns."""
        return cut(self.plain(text), width, "…" if self.unicode else "..")

    def padded(self, text: str, width: int) -> str:
        """The text cut or filled to ``width`` columns."""
        return padded(self.cut(text, width), width)

    def blank(self) -> None:
        """An empty line."""
        self.lines.append(())

    def head(self, title: str) -> None:
        """A section's title after an empty line."""
        self.blank()
        self.say(title, style="head")

    def say(self, text: str, *, style: str = "", first: str = "", indent: int = 0) -> None:
        """A paragraph, wrapped; ``first`` stands before it, ``indent`` before its further lines."""
        lead = self.plain(first)
        room = max(self.width - max(width_of(lead), indent), 8)
        for i, line in enumerate(wrapped(self.plain(text), room)):
            before = lead if i == 0 else " " * indent
            self.put((before, ""), (line, style))

    def put(self, *pieces: Piece) -> None:
        """A finished line; pieces without text are dropped, blanks at the end too."""
        kept = [(text, style) for text, style in pieces if text]
        while kept and not kept[-1][0].strip():
            kept.pop()
        if kept:
            kept[-1] = (kept[-1][0].rstrip(" "), kept[-1][1])
        self.lines.append(tuple(kept))

    def text(self) -> str:
        """All lines as plain text, without styles."""
        return "".join("".join(text for text, _ in line) + "\n" for line in self.lines)


def _escaped(c: str) -> str:
    return f"\\u{ord(c):04x}" if ord(c) < 0x10000 else f"\\U{ord(c):08x}"
