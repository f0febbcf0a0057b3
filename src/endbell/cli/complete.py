"""What the shell offers when an option's value is half typed."""

from __future__ import annotations

from collections.abc import Iterable


def kinds(incomplete: str) -> list[str]:
    """Kinds of mark."""
    from ..marks import KINDS

    return _begun(KINDS, incomplete)


def legibilities(incomplete: str) -> list[str]:
    """How legible a mark can be."""
    from ..dossier.keys import LEGIBILITIES

    return _begun(LEGIBILITIES, incomplete)


def results(incomplete: str) -> list[str]:
    """What a look can come to."""
    from ..dossier.keys import RESULTS

    return _begun(RESULTS, incomplete)


def models(incomplete: str) -> list[str]:
    """Models of the packs within reach."""
    from .shelf import Shelf

    return _begun(Shelf(None).model_ids(), incomplete)


def levels(incomplete: str) -> list[str]:
    """How far in a check goes."""
    from ..reference import load_reference

    return _begun(load_reference(())[0].levels, incomplete)


def _begun(words: Iterable[str], incomplete: str) -> list[str]:
    return [word for word in words if word.startswith(incomplete)]
