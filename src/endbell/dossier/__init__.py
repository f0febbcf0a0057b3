"""The record of one amp: its types, its file form, and its marks as read."""

from .types import Claim, Dossier, Mark, Part, Problem, Repair

__all__ = ["Claim", "Dossier", "Mark", "Part", "Problem", "Repair"]
