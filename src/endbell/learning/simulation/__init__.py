"""Dossiers drawn from the model of docs/model.md.

Samples only: no likelihood, nothing of the engine's.
"""

from .simulator import Simulator
from .types import Drawn, Truth, Twist

__all__ = ["Drawn", "Simulator", "Truth", "Twist"]
