"""A measured response held against the computed one: how far off, and where it is worst."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .response import Stage

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Compared:
    """Both responses at the measured frequencies, in dB; ``off``: measured less computed.

    ``shift``: what was added to the measured level to lay one on the other (0: not aligned).
    ``worst``: the deviation of largest size, with its sign, at ``worst_hz``; ``rms`` of all.
    """

    hz: Floats
    measured: Floats
    computed: Floats
    off: Floats
    shift: float
    worst: float
    worst_hz: float
    rms: float


def compare(
    of: Stage,
    hz: ArrayLike,
    measured_db: ArrayLike,
    *,
    align_at: float | None = None,
    align: bool = False,
) -> Compared:
    """Hold ``measured_db`` at ``hz`` against what the stage gives.

    ``align_at``: level both there (by the measured point nearest to it); ``align``: level both by
    the median of their difference, which one bad point does not move.  Neither: levels count.
    :class:`ValueError` for no points, unlike lengths, or what is no number.
    """
    at, db = points(hz, measured_db)
    computed = of.response_db(at)
    if align_at is not None:
        nearest = int(np.argmin(np.abs(np.log(at / align_at))))
        shift = float(computed[nearest] - db[nearest])
    else:
        shift = float(np.median(computed - db)) if align else 0.0
    off = db + shift - computed
    worst = int(np.argmax(np.abs(off)))
    return Compared(
        at,
        db + shift,
        computed,
        off,
        shift,
        float(off[worst]),
        float(at[worst]),
        float(np.sqrt(np.mean(off**2))),
    )


def points(hz: ArrayLike, db: ArrayLike) -> tuple[Floats, Floats]:
    """Measured points in order of frequency; :class:`ValueError` says what is not usable."""
    at, level = np.asarray(hz, float).ravel(), np.asarray(db, float).ravel()
    if len(at) != len(level) or not len(at):
        raise ValueError(
            f"{len(at)} frequencies and {len(level)} levels: as many of each, 1 or more"
        )
    if not np.all(np.isfinite(at)) or not np.all(at > 0.0):
        raise ValueError("a frequency that is no number of Hz above 0")
    if not np.all(np.isfinite(level)):
        raise ValueError("a level that is no number of dB: a silent output is left out")
    order = np.argsort(at, kind="stable")
    return at[order], level[order]


def tilt(compared: Compared) -> str:
    """In which part of the band it strays: 'low', 'high', 'both ends', 'all over'; '' if nowhere.

    By thirds of the measured band on a logarithmic axis, against half the worst deviation.
    """
    size = abs(compared.worst)
    if not size > 0.0 or len(compared.hz) < 3:
        return ""
    log = np.log(compared.hz)
    third = (log - log[0]) / max(float(log[-1] - log[0]), 1e-12)
    strays = np.abs(compared.off) > 0.5 * size
    low = bool(np.any(strays & (third < 1.0 / 3.0)))
    high = bool(np.any(strays & (third > 2.0 / 3.0)))
    middle = bool(np.any(strays & (third >= 1.0 / 3.0) & (third <= 2.0 / 3.0)))
    words: Sequence[tuple[bool, str]] = (
        (middle and (low or high), "all over"),
        (low and high, "both ends"),
        (low, "low"),
        (high, "high"),
        (middle, "middle"),
    )
    return next((word for is_so, word in words if is_so), "")
