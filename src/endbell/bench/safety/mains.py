"""The mains against the tap, the fuse against the current, the unloaded supply."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from ..figures import checked, positive

_PEAKS = {"full-wave": 0.5, "bridge": 1.0, "half-wave": 1.0, "doubler": 2.0}


def scaled(volts: float, mains: float, tap: float) -> float:
    """What a winding (or a supply) meant for ``tap`` volts gives on ``mains`` volts: in proportion.

    True of an unloaded transformer below saturation; a supply with valves on it follows a little
    less than in proportion.  Raises ValueError for a tap that is not positive.
    """
    return volts * checked("mains voltage", mains, least=0.0) / positive("tap voltage", tap)


def nearest_tap(taps: Sequence[float], mains: float) -> float | None:
    """The tap whose ratio to the mains is nearest to one; the higher of two that are alike."""
    usable = [tap for tap in taps if tap > 0]
    if not usable or mains <= 0:
        return None
    return min(usable, key=lambda tap: (max(tap / mains, mains / tap), -tap))


def unloaded_peak(winding: float, arrangement: str, mains: float, tap: float) -> float:
    """Volts dc that a supply with a capacitor at its input can reach when nothing draws.

    ``winding``: V rms end to end at the ``tap``'s voltage.  The peak of the sine, √2, of half the
    winding (full-wave, centre tap), the whole (bridge, half-wave), or twice that (doubler); no drop
    in rectifier or winding, since nothing flows.

    >>> round(unloaded_peak(650, "full-wave", 240, 240))
    460
    """
    if arrangement not in _PEAKS:
        raise ValueError(f"supply {arrangement!r} is not known: {', '.join(_PEAKS)}")
    return scaled(sqrt(2.0) * _PEAKS[arrangement] * abs(checked("voltage", winding)), mains, tap)


def mains_current(watt: float, volts: float) -> float:
    """Amperes rms that ``watt`` from the mains mean at least: P/V, power factor 1."""
    return checked("power", watt, least=0.0) / positive("mains voltage", volts)


def fuse_on_tap(fuse: float, drawn_tap: float, tap: float) -> float:
    """Amperes of the fuse at ``tap`` where one is drawn for ``drawn_tap``: same power."""
    return scaled(fuse, drawn_tap, tap)
