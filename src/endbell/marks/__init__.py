"""What is written on a part, and everything it can mean. Pure: text and tables in, readings out."""

from .tables import Tables
from .types import MarkReading, Misfit, Reading, Seen, Span, Split, TermHit, Vector

__all__ = ["MarkReading", "Misfit", "Reading", "Seen", "Span", "Split", "Tables", "TermHit", "Vector"]
