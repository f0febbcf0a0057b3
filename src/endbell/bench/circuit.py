"""What a circuit should be: mains, valves, rails, parts, windings, stages. Facts come from files.

A pack describes a model's circuit in ``circuits/<model>.toml`` (``endbell-circuit/1``); a sheet may
describe its own.  Everything in SI units.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MainsTap:
    """A primary tap: the mains voltage (V rms) it is meant for."""

    volts: float
    label: str = ""


@dataclass(frozen=True, slots=True)
class Seat:
    """A valve socket, or one section of it. ``use``: 'preamp', 'inverter', 'output', 'rectifier',
    'reverb drive', 'tremolo'.  ``type``: the valve the circuit was drawn for.

    Expected DC in V against chassis; None where the drawing does not say.  ``cathode_ohm``,
    ``plate_ohm``, ``screen_ohm``, ``grid_ohm``: resistors at the electrode.  ``rail``: the rail the
    plate is fed from (through its load).  ``pair``: id of the seat it works in push-pull with.
    ``cathode_sharing``: how many like valves draw through the cathode resistor.
    """

    at: str
    type: str
    use: str
    plate: float | None = None
    screen: float | None = None
    cathode: float | None = None
    grid: float | None = None
    plate_ohm: float | None = None
    cathode_ohm: float | None = None
    screen_ohm: float | None = None
    grid_ohm: float | None = None
    rail: str = ""
    pair: str = ""
    bias: str = ""  # 'cathode' | 'fixed' | ''
    cathode_sharing: int = 1


@dataclass(frozen=True, slots=True)
class Rail:
    """A supply node. ``volts``: expected at the nominal mains; ``tolerance``: fraction of it."""

    id: str
    volts: float
    tolerance: float = 0.1
    ripple: float | None = None  # V rms, most that is usual
    fed_from: str = ""  # the rail before it
    through_ohm: float | None = None


@dataclass(frozen=True, slots=True)
class Capacitor:
    """``use``: 'filter', 'coupling', 'bypass', 'tone', 'line-to-chassis', 'bias'."""

    id: str
    farad: float
    volts: float | None
    use: str
    rail: str = ""
    tolerance: float = 0.2
    part: str = ""  # id of the part in the dossier: 'elco-1'


@dataclass(frozen=True, slots=True)
class Resistor:
    """A resistor that is worth measuring. ``bleeds``: the rail it discharges, if any."""

    id: str
    ohm: float
    tolerance: float = 0.1
    watt: float | None = None
    use: str = ""
    bleeds: str = ""


@dataclass(frozen=True, slots=True)
class Winding:
    """A winding of a transformer. ``part``: 'pt', 'ot', 'rt', 'choke'.

    ``volts``: unloaded, V rms end to end at the nominal mains (power transformers); ``use``:
    'primary', 'hv', 'heater', 'rectifier heater', 'bias', 'secondary', 'reverb'.  ``turns``:
    relative to the primary (output transformers: primary plate to plate = 1).
    ``load_ohm``: load the tap is meant for.  ``tolerance`` of ``dc_ohm``: fraction, one sd.
    """

    id: str
    part: str
    use: str
    volts: float | None = None
    amps: float | None = None
    dc_ohm: float | None = None
    dc_tolerance: float = 0.1
    load_ohm: float | None = None
    turns: float | None = None
    tap_of: str = ""


@dataclass(frozen=True, slots=True)
class StageDrawing:
    """A stage as a netlist (see ``docs/formats/circuit.md``), with where its signal enters and
    leaves and the gain it should have (dB at ``gain_hz``)."""

    id: str
    title: str
    netlist: str
    source_node: str
    out_node: str
    gain_db: float | None = None
    gain_hz: float = 1000.0
    tolerance_db: float = 2.0


@dataclass(frozen=True, slots=True)
class Circuit:
    """A model's circuit. ``protection``: 'I' (earthed), 'II', '0' (two-wire cord, not earthed).

    ``rated_watt``: output power it is sold by; ``load_ohm``: its nominal load; ``primary_ohm``:
    plate to plate; ``rectifier``: valve type, or 'silicon'; ``supply``: 'full-wave', 'bridge',
    'doubler'; ``input``: 'capacitor' or 'choke' input filter; ``fuse``: A, with ``fuse_kind``
    ('T' time-lag, 'F' fast).
    """

    id: str
    title: str
    source: str
    confidence: str
    mains: tuple[MainsTap, ...] = ()
    mains_hz: float | None = None
    protection: str = "I"
    fuse: float | None = None
    fuse_kind: str = ""
    mains_watt: float | None = None
    rectifier: str = ""
    supply: str = "full-wave"
    input: str = "capacitor"
    rated_watt: float | None = None
    load_ohm: float | None = None
    primary_ohm: float | None = None
    seats: tuple[Seat, ...] = ()
    rails: tuple[Rail, ...] = ()
    capacitors: tuple[Capacitor, ...] = ()
    resistors: tuple[Resistor, ...] = ()
    windings: tuple[Winding, ...] = ()
    stages: tuple[StageDrawing, ...] = ()

    def rail(self, rail: str) -> Rail | None:
        """The rail of that id."""
        return next((r for r in self.rails if r.id == rail), None)

    def seat(self, at: str) -> Seat | None:
        """The seat of that place."""
        return next((s for s in self.seats if s.at == at), None)
