"""Pictures of what was measured, as Vega-Lite specifications with their data in them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from .arrays import Floats, db
from .noise import Noise
from .power import Step
from .recorded import Found
from .reverb import Decay
from .sweep import Response
from .tone import Tone
from .tremolo import Tremolo

Spec = dict[str, Any]

_SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
_HZ = "Frequency (Hz)"
_DEEPEST = -140.0  # dB: nothing below is drawn


def plot_of(found: Found, *, volts: float = 1.0, ohm: float | None = None) -> Spec:
    """The picture of what a recording holds. ``volts``: at the load per full scale, ``ohm``: load,
    where they are known.
    """
    match found:
        case Response():
            return response_plot(found)
        case Noise():
            return hum_plot(found, volts)
        case Tone():
            return harmonics_plot(found)
        case Tremolo():
            return tremolo_plot(found)
        case Decay():
            return decay_plot(found)
        case _:
            return power_plot(found, volts, ohm)


def response_plot(found: Response) -> Spec:
    """Response in dB to 1 kHz over frequency, and each harmonic in dB to the tone that made it."""
    low, high = found.sweep.told
    hertz = np.geomspace(low, high, 240)
    zero = 1000.0 if low < 1000.0 < high else float(np.sqrt(low * high))
    rows = _rows("response", hertz, found.decibels(hertz, zero))
    for order in range(2, min(len(found.harmonics), 4) + 2):
        made = found.distortion(order, hertz)
        level = 20.0 * np.log10(np.maximum(made, 1e-7))
        rows += _rows(f"harmonic {order}", hertz, level)
    return _chart(
        f"Response, dB to {zero:g} Hz",
        rows,
        {"type": "line", "interpolate": "monotone"},
        x=_axis("hertz", _HZ, log=True),
        y=_axis("level", "dB"),
        color=_by("curve"),
    )


def hum_plot(found: Noise, volts: float = 1.0) -> Spec:
    """Hum by harmonic, mV at the load (or thousandths of full scale)."""
    mains = found.mains or 50.0
    rows = [
        {"hertz": round(order * mains, 2), "level": h * volts * 1000.0}
        for order, h in enumerate(found.hum, start=1)
    ]
    return _chart(
        "Hum by harmonic",
        rows,
        {"type": "bar", "width": 8},
        x=_axis("hertz", _HZ),
        y=_axis("level", "mV rms" if volts != 1.0 else "thousandths of full scale"),
    )


def harmonics_plot(found: Tone) -> Spec:
    """Each harmonic in dB to the fundamental."""
    rows = [
        {"order": order, "level": max(db(h / found.rms), _DEEPEST)}
        for order, h in enumerate((found.rms, *found.harmonics), start=1)
    ]
    return _chart(
        f"Harmonics of {found.hertz:.1f} Hz",
        rows,
        {"type": "point", "filled": True},
        x={**_axis("order", "Harmonic"), "type": "ordinal"},
        y=_axis("level", "dB to the fundamental"),
    )


def power_plot(steps: Sequence[Step], volts: float = 1.0, ohm: float | None = None) -> Spec:
    """Distortion over power (W), or over the level in dB to the highest where no load is known."""
    most = max((step.rms for step in steps), default=1.0)
    rows = [
        {
            "power": (step.rms * volts) ** 2 / ohm if ohm else db(step.rms / most),
            "thd": max(step.thd, 1e-6) * 100.0,
        }
        for step in steps
    ]
    return _chart(
        "Distortion as the level rises",
        rows,
        {"type": "line", "point": True},
        x=_axis("power", "Output power (W)" if ohm else "dB to the highest level", log=bool(ohm)),
        y=_axis("thd", "THD (%)", log=True),
    )


def tremolo_plot(found: Tremolo) -> Spec:
    """One mean turn of the tremolo, its mean 1."""
    turn = np.linspace(0.0, 1.0 / found.hertz, found.cycle.size, endpoint=False)
    return _chart(
        f"One turn of the tremolo, {found.hertz:.2f} Hz",
        _pairs("seconds", turn, "level", found.cycle),
        {"type": "line"},
        x=_axis("seconds", "Time (s)"),
        y=_axis("level", "Level, its mean 1"),
    )


def decay_plot(found: Decay) -> Spec:
    """Schroeder's curve of the decay, dB."""
    step = max(found.curve.size // 400, 1)
    curve = np.maximum(found.curve[::step], _DEEPEST)
    seconds = np.linspace(0.0, found.step * step * (curve.size - 1), curve.size)
    return _chart(
        f"Decay, {found.seconds:.2f} s for 60 dB by {found.by}",
        _pairs("seconds", seconds, "level", curve),
        {"type": "line"},
        x=_axis("seconds", "Time (s)"),
        y=_axis("level", "dB"),
    )


def impedance_plot(hertz: Floats, ohm: Floats, told: Floats | None = None) -> Spec:
    """Impedance over frequency, and the ``told`` curve of a fitted loudspeaker beside it."""
    rows = _rows("measured", hertz, ohm)
    if told is not None:
        rows += _rows("fitted", hertz, told)
    return _chart(
        "Impedance of the loudspeaker",
        rows,
        {"type": "line"},
        x=_axis("hertz", _HZ, log=True),
        y=_axis("level", "Impedance (Ω)"),
        color=_by("curve"),
    )


def _chart(
    title: str, rows: Iterable[Mapping[str, Any]], mark: Mapping[str, Any], **encoding: Spec
) -> Spec:
    return {
        "$schema": _SCHEMA,
        "title": title,
        "width": "container",
        "height": 260,
        "data": {"values": [dict(row) for row in rows]},
        "mark": dict(mark),
        "encoding": encoding,
    }


def _axis(field: str, title: str, *, log: bool = False) -> Spec:
    scale: Spec = {"type": "log", "nice": False} if log else {"zero": False}
    return {"field": field, "type": "quantitative", "title": title, "scale": scale}


def _by(field: str) -> Spec:
    return {"field": field, "type": "nominal", "title": None, "sort": None}


def _rows(curve: str, hertz: Floats, level: Floats) -> list[Spec]:
    return [
        {"curve": curve, **pair}
        for pair in _pairs("hertz", hertz, "level", level)
        if np.isfinite(pair["level"]) and pair["level"] > _DEEPEST
    ]


def _pairs(x: str, first: Floats, y: str, second: Floats) -> list[Spec]:
    return [
        {x: round(a, 5), y: round(b, 5)}
        for a, b in zip(first.tolist(), second.tolist(), strict=True)
    ]
