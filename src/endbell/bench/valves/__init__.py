"""Valves: what they conduct, what they may be given, where they settle, what feeds them.

Pure computation in SI units; :mod:`.on_sheet` makes the lines of a bench sheet from it.
"""

from __future__ import annotations

from .koren import Flow, Pentode, Triode, flow, plate_current, screen_current
from .models import (
    Model,
    SmallSignal,
    UnknownValve,
    has_model,
    known_as,
    model,
    models,
    small_signal,
)
from .ratings import Rating, RatingSystem, rating, rating_systems, ratings_of

__all__ = [
    "Flow",
    "Model",
    "Pentode",
    "Rating",
    "RatingSystem",
    "SmallSignal",
    "Triode",
    "UnknownValve",
    "flow",
    "has_model",
    "known_as",
    "model",
    "models",
    "plate_current",
    "rating",
    "rating_systems",
    "ratings_of",
    "screen_current",
    "small_signal",
]
