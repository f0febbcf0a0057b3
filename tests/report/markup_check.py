"""A strict reader of our own HTML and SVG: unclosed, misnested and doubled things are faults."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = {"meta", "br", "hr", "link", "wbr"}


class Reader(HTMLParser):
    """Collects elements, ids, link targets and texts; ``faults`` says what is malformed."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.faults: list[str] = []
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.texts: list[str] = []
        self._open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        if len(set(names)) != len(names):
            self.faults.append(f"<{tag}> has an attribute twice: {names}")
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if not self._open or self._open.pop() != tag:
            self.faults.append(f"</{tag}> closes something else")

    def handle_data(self, data: str) -> None:
        if self._open and self._open[-1] not in ("style", "script"):
            self.texts.append(data)

    def values(self, attribute: str) -> list[str]:
        return [a[attribute] for _, a in self.elements if attribute in a]

    @property
    def text(self) -> str:
        return "".join(self.texts)


def read(markup: str) -> Reader:
    """Read the whole text; what stays open is a fault too."""
    reader = Reader()
    reader.feed(markup)
    reader.close()
    if reader._open:
        reader.faults.append(f"never closed: {reader._open}")
    return reader
