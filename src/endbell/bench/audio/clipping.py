"""Clipping of the converter, told apart from that of the amp.

What a converter cannot hold it writes as its largest number, sample after sample, to the last bit.
The top of an amp's clipped wave carries its own hum and noise, and lies where the gain puts it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .arrays import Floats, db
from .errors import RecordingError
from .rules import rule

_RUN = 3  # samples alike at the extreme before it is called flat
_FALL = 16.0  # steps of 16 bits that a wave falls beside a flat top; a sine's own top falls by 9


@dataclass(frozen=True, slots=True)
class Clipped:
    """``samples``: how many stand at the extreme; ``seconds``: where the first does; ``level``: dB
    of full scale; ``certain``: at full scale, else flat to the last bit somewhere below it.
    """

    samples: int
    seconds: float
    level: float
    certain: bool

    @property
    def says(self) -> str:
        """What to tell."""
        where = f"{self.samples} samples, the first at {self.seconds:.3f} s"
        if self.certain:
            return f"the converter clipped ({where}): this is the interface, not the amp"
        return (
            f"its tops are flat to the last bit at {self.level:.1f} dB of full scale ({where}), "
            "which no amp does: it was clipped before its level was changed"
        )


def clipped(samples: Floats, rate: float, step: float = 2.0**-15) -> Clipped | None:
    """What a converter clipped of ``samples`` (full scale = 1), None where it did not.

    ``step``: the smallest difference the file can hold.  Certain at full scale (two samples and
    more at the largest number), or in flat runs near it that fall away too steeply for the top of
    a wave.  Below ``clip-from`` of full scale only runs that are equal to the last bit at 24 bits
    and recur are told, as not certain.
    """
    found = [c for sign in (1.0, -1.0) if (c := _side(samples, sign, rate, step)) is not None]
    if not found:
        return None
    return min(found, key=lambda c: (not c.certain, c.seconds))


def refuse_clipped(samples: Floats, rate: float, step: float = 2.0**-15) -> Clipped | None:
    """Raise RecordingError where the converter clipped; else what is only suspected, or None."""
    found = clipped(samples, rate, step)
    if found is not None and found.certain:
        raise RecordingError(
            found.says,
            "Turn the interface down until the loudest passage stays 3 dB below full scale, "
            "calibrate it again and record anew; nothing was measured",
        )
    return found


def _side(samples: Floats, sign: float, rate: float, step: float) -> Clipped | None:
    top = float(samples.max() if sign > 0 else -samples.min())
    if top <= 0.0:
        return None
    edge = top - 0.5 * step
    at = np.flatnonzero(samples >= edge if sign > 0 else samples <= -edge)
    starts, lengths = _runs(at)
    level = db(top)
    largest = 1.0 - 1.5 * step
    if abs(top - 1.0) <= 1.5 * step or (step > 2.0**-20 and top >= largest):
        # one sample may just touch; a pair side by side, or several alone, do not by chance
        if lengths.max() >= 2 or at.size >= 4:
            return Clipped(at.size, float(at[0]) / rate, level, True)
        return None
    flat = lengths >= _RUN
    if not flat.any():
        return None
    steep = _steep(sign * samples, starts[flat], lengths[flat], top)
    count = int(lengths[flat][steep].sum())
    if not count:
        return None
    first = float(starts[flat][steep][0]) / rate
    if top >= rule("clip-from"):
        return Clipped(count, first, level, True)
    if step <= 2.0**-20 and int(steep.sum()) >= _RUN:
        return Clipped(count, first, level, False)
    return None


def _runs(at: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Where runs of neighbouring samples start, and how long they are."""
    breaks = np.flatnonzero(np.diff(at) > 1) + 1
    firsts = np.concatenate(([0], breaks))
    ends = np.concatenate((breaks, [at.size]))
    return at[firsts], ends - firsts


def _steep(
    wave: Floats, starts: NDArray[np.intp], lengths: NDArray[np.intp], top: float
) -> NDArray[np.bool_]:
    """Which flat runs fall away faster beside them than the round top of a wave would."""
    before = np.clip(starts - lengths, 0, wave.size - 1)
    after = np.clip(starts + 2 * lengths - 1, 0, wave.size - 1)
    fall = np.maximum(top - wave[before], top - wave[after])
    return fall > _FALL * 2.0**-15
