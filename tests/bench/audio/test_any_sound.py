"""Whatever a file holds, it is measured or refused in a sentence; nothing else comes of it."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from endbell.bench.audio import (
    RecordingError,
    Sweep,
    measure_decay,
    measure_noise,
    measure_tone,
    measure_tremolo,
    response,
    steps_of,
)
from endbell.bench.audio.onset import steady
from endbell.bench.loudspeaker import fitted, from_recording, polarity

from .made import Floats

RATE = 44100


def sounds(seed: int) -> dict[str, Floats]:
    rng = np.random.default_rng(seed)
    n = int(RATE * rng.choice([0.25, 1.0, 2.5]))
    t = np.arange(n) / RATE
    hz = float(rng.uniform(5, RATE / 2))
    return {
        "noise": 0.1 * rng.normal(size=n),
        "square": 0.5 * np.sign(np.sin(2 * pi * hz * t)),
        "tone": 0.5 * np.sin(2 * pi * hz * t),
        "one sample": np.where(np.arange(n) == rng.integers(n), 0.7, 0.0),
        "step": 0.5 * (t > rng.uniform(0, t[-1])),
        "wander": 0.2 * np.cumsum(rng.normal(size=n)) / np.sqrt(n),
        "clicks": np.where(np.arange(n) % 1000 == 0, 0.3, 0.0),
        "burst": 0.1 * rng.normal(size=n) * np.exp(-t * rng.uniform(0, 200)),
        "glide": 0.5 * np.sin(2 * pi * (20 * t + rng.uniform(10, 5000) * t * t)),
        "cut": np.where(t > t[-1] / 2, 0.3 * np.sin(2 * pi * 1000 * t), 0.0),
    }


@pytest.mark.parametrize("seed", range(3))
def test_any_sound_is_measured_or_refused_in_a_sentence(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    measures = {
        "sine": lambda x: measure_tone(steady(x, RATE), RATE),
        "level steps": lambda x: steps_of(x, RATE),
        "silence": lambda x: measure_noise(x, RATE),
        "sweep": lambda x: response(x, RATE, Sweep(20, 20000, float(rng.choice([0.2, 1.0])))),
        "tremolo": lambda x: measure_tremolo(x, RATE),
        "reverb": lambda x: measure_decay(x, RATE),
        "polarity": lambda x: polarity(x, RATE),
        "impedance": lambda x: fitted(
            from_recording(x, 0.3 * x + 1e-3 * rng.normal(size=x.size), RATE, 10.0)
        ),
    }
    refused = 0
    for name, wave in sounds(seed).items():
        for kind, measure in measures.items():
            try:
                assert measure(wave) is not None
            except RecordingError as error:
                refused += 1
                assert len(error.found) > 10 and len(error.accepted) > 10, (name, kind)
    assert refused > 20
