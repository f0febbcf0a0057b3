"""What was measured on one amp: the sheet's readings, in SI units, beside its circuit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .circuit import Circuit
from .lines import LineKind


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of a meter. ``typed``: as written; ``value``: in the line's SI unit.

    ``spread``: one standard deviation of the reading, 0 where none was given.  ``after``: whether
    it was taken after the repair.  ``result``: 'read', 'not-possible' (with a reason in ``note``).
    """

    n: int
    line: str
    at: str
    typed: str
    value: float | None
    spread: float = 0.0
    after: bool = False
    result: str = "read"
    by: str = ""
    on: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Recording:
    """A recorded signal: samples in volts at the load, shape (frames,), and how it was made.

    ``kind``: 'sine', 'level steps', 'sweep', 'silence', 'tremolo', 'reverb', 'impedance'.
    ``full_scale``: volts at the load of a full-scale sample; None where the level was not
    calibrated (then only ratios are said).
    """

    n: int
    kind: str
    file: str
    full_scale: float | None = None
    load_ohm: float | None = None
    after: bool = False
    keys: Mapping[str, float | str] = field(default_factory=dict[str, float | str])


@dataclass(frozen=True, slots=True)
class Bench:
    """Everything the computations of a subject are given. ``kinds``: every kind of line by id.

    ``practice``: whose limits apply ('iec', 'iet', 'vde', 'us'); ``parts_original``: probability
    that a part of the dossier is original, ``parts_year``: its likeliest year, where a dossier was
    weighed.  Readings after a repair replace earlier ones of the same line and place.
    """

    circuit: Circuit
    readings: tuple[Reading, ...]
    kinds: Mapping[str, LineKind]
    practice: str = "iec"
    ambient: float = 293.15  # K
    recordings: tuple[Recording, ...] = ()
    parts_original: Mapping[str, float] = field(default_factory=dict[str, float])
    parts_year: Mapping[str, int] = field(default_factory=dict[str, int])
    _last: dict[tuple[str, str], Reading] = field(
        init=False, repr=False, compare=False, default_factory=dict[tuple[str, str], Reading]
    )

    def __post_init__(self) -> None:
        # every line asks for several readings: looked up, not searched for
        for r in self.readings:
            if r.value is not None and r.result == "read":
                self._last[r.line, r.at] = r

    def reading(self, line: str, at: str = "") -> Reading | None:
        """The last usable reading of ``line`` at ``at``; None where there is none."""
        return self._last.get((line, at))

    def value(self, line: str, at: str = "") -> float | None:
        """Its value in SI units."""
        found = self.reading(line, at)
        return found.value if found else None

    def places(self, line: str) -> tuple[str, ...]:
        """Every place ``line`` was read at, in the order of the sheet, each once."""
        return tuple(dict.fromkeys(r.at for r in self.readings if r.line == line))
