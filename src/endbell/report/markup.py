"""Building HTML and SVG so that every text is escaped unless it was built here."""

from __future__ import annotations

import unicodedata
from html import escape


class Safe(str):
    """Markup that :func:`el` built; everything else is text and is escaped."""

    __slots__ = ()


Child = str | None
"""Text (escaped), :class:`Safe` markup (kept), None (left out)."""

VOID = frozenset(
    {"meta", "br", "hr", "link", "rect", "line", "path", "circle", "polygon", "polyline"}
)


def visible(text: str) -> str:
    """Text with the characters that no page or terminal can carry shown as pictures or code points.

    Control characters become their Unicode control pictures; characters that turn the direction of
    the text round them become ``<U+202E>``: what was typed stays readable and can't disturb its
    neighbours.

    >>> visible("99\\x003"), visible("a\\u202eb"), visible("5\\u0664")
    ('99␀3', 'a<U+202E>b', '5٤')
    """
    return text if text.isprintable() else "".join(_visible(c) for c in text)


def _visible(c: str) -> str:
    if c < " ":
        return chr(0x2400 + ord(c))
    if c == "\x7f":
        return "\u2421"
    if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"):
        return f"<U+{ord(c):04X}>"
    return c


def text(value: str) -> Safe:
    """Escaped text, fit for element content and for double-quoted attributes.

    Line ends and tabs of prose stay what they are (a page shows them as a space).
    """
    if value.isprintable():
        return Safe(escape(value, quote=True))
    kept = "".join(c if c in "\n\t" else _visible(c) for c in value)
    return Safe(escape(kept, quote=True))


def join(*children: Child) -> Safe:
    """Children one after the other, each escaped unless it is :class:`Safe`."""
    return Safe("".join(c if isinstance(c, Safe) else text(c) for c in children if c is not None))


def el(name: str, *children: Child, **attributes: str | float | bool | None) -> Safe:
    """An element: ``cls`` is class, ``data_n`` is data-n.

    True makes an attribute without value; None and False leave it out.

    >>> el("p", "a < b", cls="note", hidden=True)
    '<p class="note" hidden="">a &lt; b</p>'
    """
    parts = [f"<{name}"]
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        attribute = "class" if key == "cls" else key.rstrip("_").replace("_", "-")
        shown = "" if value is True else number(value) if isinstance(value, float) else str(value)
        parts.append(f' {attribute}="{text(shown)}"')
    if name in VOID and not children:
        parts.append("/>" if name not in ("meta", "br", "hr", "link") else ">")
    else:
        parts.append(f">{join(*children)}</{name}>")
    return Safe("".join(parts))


def number(value: float) -> str:
    """A coordinate: at most two decimals, no trailing zeros.

    >>> number(3.0), number(0.126), number(-0.001)
    ('3', '0.13', '0')
    """
    said = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if said in ("-0", "") else said
