"""Pieces of a page made outside of a request, and how templates say figures and weeks."""

from __future__ import annotations

from typing import Any

from ..report.numbers import percent, ranges, week_words
from .pages import FILTERS, environment

FILTERS.update(percent=percent, ranges=ranges, week=week_words)


def fragment(template: str, **context: Any) -> str:
    """``template`` with ``context``, without anything that belongs to one reader."""
    return environment().get_template(template).render(**context)
