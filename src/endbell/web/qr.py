"""QR codes as pictures in a page."""

from __future__ import annotations

import segno
from markupsafe import Markup, escape


def qr_svg(text: str, title: str) -> Markup:
    """``text`` as an SVG; dark on light in any theme, since cameras want it so."""
    code = segno.make(text, error="m", micro=False)
    drawn = code.svg_inline(scale=4, border=4, dark="#000", light="#fff", omitsize=True)
    return Markup(drawn).replace(
        "<svg ", Markup('<svg class="qr" role="img" aria-label="{}" ').format(escape(title)), 1
    )
