"""How long a minute of recording takes, and how near what is found is to what is in it.

    PYTHONPATH=src python -m benchmarks.audio [--rounds 7] [--seconds 60] [--out FOLDER]

Writes results/audio.md: from a file of 60 s at 96 kHz and 24 bit to its figures, for each kind of
recording (read in blocks, looked through for clipping, measured), and the largest errors over
recordings whose every figure is known, at all sample rates, 16 and 24 bit, clocks 100 parts in a
million off.  The bar of time is judged by the median.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Sequence
from math import log10, pi, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

if not __package__:  # run by its path
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.harness import machine, page, timing
from endbell.bench.audio import Sweep, measure_noise, measure_tone, response
from endbell.bench.audio.files import read_pair
from endbell.bench.audio.recorded import measure_file
from endbell.bench.loudspeaker import fitted, from_recording
from endbell.bench.loudspeaker.thiele_small import impedance

RESULTS = Path(__file__).resolve().parent / "results"
RATE = 96000
LIMIT_MS = 2000.0
RATES = (44100, 48000, 88200, 96000, 192000)
Floats = Any


def signals(seconds: float) -> dict[str, tuple[str, Floats, dict[str, float | str]]]:
    """Kind, samples and keys of each recording that is timed."""
    t = np.arange(int(RATE * seconds)) / RATE
    tone = np.sin(2 * pi * 997 * t)
    sweep = Sweep(10.0, 30000.0, 0.96 * seconds)
    swept = np.zeros(t.size)
    played = sweep.samples(RATE, 50e-6)[: t.size]
    swept[-played.size :] = played
    level = 10 ** (np.minimum(np.floor(t / seconds * 30) - 27, 2) / 20)
    noise = np.random.default_rng(1).normal(size=t.size)
    keys: dict[str, float | str] = {"hz_from": 10.0, "hz_to": 30000.0, "seconds": sweep.seconds}
    return {
        "sine": ("sine", 0.5 * tone + 0.001 * np.sin(4 * pi * 997 * t), {}),
        "level steps": ("level steps", 0.5 * np.tanh(1.5 * level * tone), {}),
        "sweep": ("sweep", 0.4 * swept, keys),
        "silence": ("silence", 1e-4 * noise + 1e-3 * np.sin(2 * pi * 100 * t), {}),
        "tremolo": ("tremolo", 0.3 * tone * (1 + 0.5 * np.sin(2 * pi * 5 * t)), {}),
        "reverb": ("reverb", 0.1 * noise * np.exp(-t), {}),
    }


def pair_case(path: Path) -> Callable[[Any], object]:
    """Both channels of a loudspeaker's recording, to its parameters."""

    def run(_: Any) -> object:
        volts, amps = read_pair(path)
        return fitted(from_recording(volts.samples, amps.samples, volts.rate, 10.0), 6.3)

    return run


def timed(folder: Path, seconds: float, rounds: int) -> dict[str, timing.Taken]:
    """Each kind from its file to its figures."""
    cases: dict[str, timing.Case] = {}
    for name, (kind, wave, keys) in signals(seconds).items():
        path = folder / f"{name}.wav"
        soundfile.write(path, wave + 1e-6, RATE, subtype="PCM_24")

        def run(_: Any, kind: str = kind, path: Path = path, keys: Any = keys) -> object:
            return measure_file(kind, path, keys)

        cases[name] = timing.Case(run)
    path = folder / "impedance.wav"
    soundfile.write(path, loudspeaker(seconds), RATE, subtype="PCM_24")
    cases["impedance (stereo)"] = timing.Case(pair_case(path))
    return timing.interleaved(cases, rounds)


def loudspeaker(seconds: float) -> Floats:
    """A sweep through a resistor of 10 ohm and a loudspeaker, both voltages."""
    sweep = Sweep(10.0, 30000.0, 0.96 * seconds).samples(RATE)
    played = np.concatenate([sweep, np.zeros(int(RATE * seconds) - sweep.size)])
    hertz = np.fft.rfftfreq(played.size, 1 / RATE)
    hertz[0] = 1e-3
    z = impedance(hertz, 6.3, 82.0, 8.0, 0.9) + 0.012 * (2j * pi * hertz) ** 0.7
    amps = np.fft.rfft(0.5 * played) / (z + 10.0)
    return np.stack([np.fft.irfft(amps * r, played.size) for r in (z, 10.0)], axis=1)


def converted(wave: Floats, bits: int, seed: int) -> Floats:
    rng = np.random.default_rng(seed)
    step = 2.0 ** (1 - bits)
    return np.round(wave / step + rng.random(wave.size) - rng.random(wave.size)) * step


def errors(rates: Sequence[int] = RATES) -> list[tuple[str, str, str, float, float]]:
    """What, of what, unit, the largest error found, what was asked for."""
    thd = level = answer = noise = 0.0
    for n, rate in enumerate(rates):
        ppm = (-1) ** n * 100e-6
        t = np.arange(rate * 6) / rate * (1 + ppm)
        for bits in (16, 24):
            for below in (-20, -40, -60, -80):
                part = 10 ** (below / 20)
                wave = np.sin(2 * pi * 997 * t) + part * (
                    0.8 * np.sin(4 * pi * 997 * t + 1) + 0.6 * np.sin(6 * pi * 997 * t + 2)
                )
                found = measure_tone(converted(0.5 * wave + 0.02, bits, n), rate)
                thd = max(thd, abs(20 * log10(found.thd * sqrt(1 + part**2) / part)))
                level = max(level, abs(20 * log10(found.rms / (0.5 / sqrt(2)))))
            answer = max(answer, _response_error(rate, bits, ppm, n))
            hum = 1e-3 * np.sin(2 * pi * 100 * t)
            hiss = np.random.default_rng(n).normal(size=t.size) * 5e-4
            rest = measure_noise(converted(hum + hiss + 0.02, bits, n), rate)
            truth = sqrt(0.5e-6 + 0.25e-6 * 19980 / (rate / 2))
            noise = max(noise, abs(20 * log10(rest.all / truth)))
    where = "44.1 to 192 kHz, 16 and 24 bit, clock ±100 ppm, DC offset"
    return [
        ("THD, -20 to -80 dB", where, "dB", thd, 0.1),
        ("level", where, "dB", level, 0.02),
        ("response, 20 Hz to 20 kHz", where, "dB", answer, 0.05),
        ("signal to noise, with hum", where, "dB", noise, 0.1),
    ]


def _response_error(rate: int, bits: int, ppm: float, seed: int) -> float:
    sweep = Sweep(10.0, min(0.48 * rate, 30000.0), 8.0)
    played = np.concatenate([np.zeros(9000), sweep.samples(rate, ppm), np.zeros(rate)])
    n = 1 << 21 if rate > 96000 else 1 << 20

    def gain(hertz: Floats) -> Floats:
        return (1j * hertz / 30) / (1 + 1j * hertz / 30) / (1 + 1j * hertz / 9000)

    heard = np.fft.irfft(np.fft.rfft(played, n) * gain(np.fft.rfftfreq(n, 1 / rate)), n)
    hertz = np.geomspace(20, 20000, 121)
    found = response(converted(0.4 * heard[: played.size] + 0.01, bits, seed), rate, sweep)
    truth = 20 * np.log10(np.abs(gain(hertz) / gain(np.array([1000.0]))))
    return float(np.abs(found.decibels(hertz) - truth).max())


def run(rounds: int, seconds: float, out: Path) -> Path:
    """Measure and write the page; its path."""
    before = machine.load()
    with tempfile.TemporaryDirectory() as folder:
        taken = timed(Path(folder), seconds, rounds)
    found = errors()
    rows = [
        [
            name,
            f"{page.figure(t.ms)} ms",
            f"{page.figure(t.least_ms)} ms",
            f"{page.figure(t.cpu_ms)} ms",
            "yes" if t.ms <= LIMIT_MS else "**no**",
        ]
        for name, t in taken.items()
    ]
    exact = [
        [what, of, f"{worst:.4f} {unit}", f"± {asked:g} {unit}", "yes" if worst <= asked else "no"]
        for what, of, unit, worst, asked in found
    ]
    lines = [
        "# Recordings: how long, how near",
        "",
        f"Command: `python -m benchmarks.audio --rounds {rounds} --seconds {seconds:g}`.",
        f"{machine.versions()}, scipy and soundfile as pinned.",
        f"{machine.processor()}. Load average before: {before}; after: {machine.load()}.",
        "",
        f"## From a file of {seconds:g} s, {RATE / 1000:g} kHz, 24 bit to its figures",
        "",
        f"Bar: at most {LIMIT_MS / 1000:g} s, by the median of {rounds} rounds.",
        "",
        *page.table(("recording", "median", "least", "processor, median", "met"), rows),
        "## Largest errors against what is known to be in the recordings",
        "",
        *page.table(("figure", "recordings", "largest error", "asked for", "met"), exact),
    ]
    out.mkdir(parents=True, exist_ok=True)
    file = out / "audio.md"
    file.write_text("\n".join(lines).rstrip() + "\n", encoding="utf-8")
    return file


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.audio", description=__doc__)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--out", type=Path, default=RESULTS, help="folder for the results")
    given = parser.parse_args(arguments)
    print(run(given.rounds, given.seconds, given.out).read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
