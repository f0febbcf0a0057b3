"""The service report as a PDF: what was measured, what was replaced, who has the old parts.

The fonts are those that typst brings along, so that a report looks the same on every machine.  The
same record gives the same bytes.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import cast

from .. import __version__
from ..bench.service import ServiceRecord
from .markup import visible
from .service_page import BAGS, CHANGES, LINES, REPLACED, SIGN, service_page
from .service_words import words_of

__all__ = ["service_page", "service_pdf"]


def service_pdf(record: ServiceRecord) -> bytes:
    """The report as a PDF on A4; the custody record stands on a page of its own."""
    import typst

    words = words_of(record)
    heads = {"replaced": REPLACED, "changes": CHANGES, "lines": LINES, "bags": BAGS, "sign": SIGN}
    given = {
        "words": json.dumps(_visible(words), ensure_ascii=True),
        "heads": json.dumps(heads, ensure_ascii=True),
        "title": visible(f"Service report {words['number']}"),
        "made": f"Endbell {__version__}",
    }
    # a moment that never changes, so that the bytes don't either
    made = typst.compile(
        _form(), format="pdf", sys_inputs=given, timestamp=0, ignore_system_fonts=True
    )
    return cast("bytes", made)


def _visible(value: object) -> object:
    """Texts with what no page can carry made visible, in lists and tables alike."""
    if isinstance(value, str):
        return visible(value)
    if isinstance(value, list):
        return [_visible(item) for item in cast("list[object]", value)]
    if isinstance(value, dict):
        return {key: _visible(item) for key, item in cast("dict[str, object]", value).items()}
    return value


@cache
def _form() -> bytes:
    return (files("endbell.report") / "service.typ").read_bytes()
