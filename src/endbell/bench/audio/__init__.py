"""Audio from a recording across the amp's load: power, distortion, hum, noise, response and more.

Computation in :mod:`.levels`, :mod:`.tone`, :mod:`.power`, :mod:`.noise`, :mod:`.weighting`,
:mod:`.sweep`, :mod:`.impedance`, :mod:`.tremolo`, :mod:`.reverb`: arrays of one channel and a
sample rate.  Files in :mod:`.files`; what a converter clipped in :mod:`.clipping` is refused before
anything is measured.  What it means on a bench sheet in :mod:`.on_sheet`.
"""

from __future__ import annotations

from .clipping import Clipped, clipped
from .errors import RecordingError
from .files import Signal, read, read_pair
from .noise import Noise, measure_noise
from .on_sheet import lines
from .power import Step, power_at, steps_of
from .reverb import Decay, measure_decay
from .sweep import Response, Sweep, response
from .tone import Tone, measure_tone
from .tremolo import Tremolo, measure_tremolo
from .weighting import a_weight, a_weight_db, a_weighted

__all__ = [
    "Clipped",
    "Decay",
    "Noise",
    "RecordingError",
    "Response",
    "Signal",
    "Step",
    "Sweep",
    "Tone",
    "Tremolo",
    "a_weight",
    "a_weight_db",
    "a_weighted",
    "clipped",
    "lines",
    "measure_decay",
    "measure_noise",
    "measure_tone",
    "measure_tremolo",
    "power_at",
    "read",
    "read_pair",
    "response",
    "steps_of",
]
