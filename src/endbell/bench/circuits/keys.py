"""The vocabulary of a circuit file: every table, every key, the unit its figures are in.

The reader goes by it, the shipped JSON Schema is generated from it, and
``docs/formats/circuit.md`` is tested against it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ...dossier.keys import Key

FORMAT_NAME = "endbell-circuit"
FORMAT_NUMBER = 1

SUPPLIES = ("full-wave", "bridge", "half-wave", "doubler")
INPUTS = ("capacitor", "choke")
PROTECTION = ("I", "II", "0")
SEAT_USES = ("preamp", "inverter", "output", "rectifier", "reverb drive", "tremolo")
CAPACITOR_USES = ("filter", "coupling", "bypass", "tone", "line-to-chassis", "bias")
WINDING_PARTS = ("pt", "ot", "rt", "choke")
WINDING_USES = (
    "primary",
    "hv",
    "heater",
    "rectifier heater",
    "bias",
    "secondary",
    "reverb",
    "choke",
)


@dataclass(frozen=True, slots=True)
class Entry:
    """A key, with the unit of its figure ('' for a text); ``low``: the least it may be."""

    key: Key
    unit: str = ""
    low: float | None = None


def _text(name: str, words: str, choices: tuple[str, ...] = (), *, required: bool = False) -> Entry:
    return Entry(Key(name, "text", words, required, choices, weighs=required or bool(choices)))


def _figure(
    name: str, words: str, unit: str, low: float | None = 0.0, *, required: bool = False
) -> Entry:
    return Entry(Key(name, "text-or-number", words, required, (), weighs=True), unit, low)


def _count(name: str, words: str) -> Entry:
    return Entry(Key(name, "number", words, weighs=True), "", 1.0)


HEAD = (
    _text("format", f"the form of this file: '{FORMAT_NAME}/{FORMAT_NUMBER}'"),
    _text("id", "the model, as its pack names it; default: the name of the file"),
    _text("title", "what the model is called"),
    _text("source", "where this circuit is from: a drawing, a sheet, an amp that was traced"),
    _text("confidence", "how far it can be trusted"),
    _figure("mains_hz", "mains frequency it is meant for", "Hz"),
    _text("protection", "I (earthed), II, 0 (two-wire cord, not earthed); default I", PROTECTION),
    _figure("fuse", "mains fuse for the first tap", "A"),
    _text("fuse_kind", "T (time-lag) or F (fast)", ("T", "F")),
    _figure("mains_watt", "what it draws from the mains", "W"),
    _text("rectifier", "the rectifier valve, or 'silicon'"),
    _text("supply", "how the winding is rectified; default full-wave", SUPPLIES),
    _text("input", "what the filter begins with; default capacitor", INPUTS),
    _figure("rated_watt", "output power it is sold by", "W"),
    _figure("load_ohm", "its nominal load", "ohm"),
    _figure("primary_ohm", "load its output valves see, plate to plate", "ohm"),
    _text("note", "anything else"),
)

MAINS = (
    _figure("volts", "mains voltage a primary tap is meant for", "V", required=True),
    _text("label", "what stands at the tap"),
)

SEAT = (
    _text("at", "the socket, with its section where there are two: V1a", required=True),
    _text("type", "the valve the circuit was drawn for", required=True),
    _text("use", "what it does", SEAT_USES, required=True),
    _figure("plate", "plate against chassis", "V", None),
    _figure("screen", "screen against chassis", "V", None),
    _figure("cathode", "cathode against chassis", "V", None),
    _figure("grid", "control grid against chassis", "V", None),
    _figure("plate_ohm", "resistor of the plate", "ohm"),
    _figure("cathode_ohm", "resistor of the cathode", "ohm"),
    _figure("screen_ohm", "resistor of the screen", "ohm"),
    _figure("grid_ohm", "resistor from the grid to where it is returned", "ohm"),
    _text("rail", "the rail its plate is fed from"),
    _text("pair", "the seat it works in push-pull with"),
    _text("bias", "cathode or fixed", ("cathode", "fixed")),
    _count("cathode_sharing", "how many like valves draw through its cathode resistor; default 1"),
)

RAIL = (
    _text("id", "its name", required=True),
    _figure("volts", "expected at the nominal mains", "V", None, required=True),
    _figure("tolerance", "share of it; default 10 %", "1"),
    _figure("ripple", "most that is usual, V rms", "V"),
    _text("fed_from", "the rail before it"),
    _figure("through_ohm", "resistance between that rail and this", "ohm"),
)

CAPACITOR = (
    _text("id", "its name on the drawing", required=True),
    _figure("farad", "its value", "F", required=True),
    _figure("volts", "its rated voltage", "V"),
    _text("use", "what it does", CAPACITOR_USES, required=True),
    _text("rail", "the rail it is on"),
    _figure("tolerance", "share of its value; default 20 %", "1"),
    _text("part", "id of the part in a dossier: elco-1"),
)

RESISTOR = (
    _text("id", "its name on the drawing", required=True),
    _figure("ohm", "its value", "ohm", required=True),
    _figure("tolerance", "share of its value; default 10 %", "1"),
    _figure("watt", "its rating", "W"),
    _text("use", "pot, pot linear, pot log or pot reverse log for a pot; else what it does"),
    _text("bleeds", "the rail it discharges"),
)

WINDING = (
    _text("id", "its name", required=True),
    _text("part", "the transformer, as the dossier has it", WINDING_PARTS, required=True),
    _text("use", "what it is for", WINDING_USES, required=True),
    _figure("volts", "unloaded, V rms end to end at the nominal mains", "V"),
    _figure("amps", "what it is meant to give", "A"),
    _figure("dc_ohm", "its resistance at 20 °C", "ohm"),
    _figure("dc_tolerance", "one standard deviation of it, as a share; default 10 %", "1"),
    _figure("load_ohm", "load the tap is meant for", "ohm"),
    _figure("turns", "turns relative to the whole primary", "1"),
    _text("tap_of", "the winding it is a tap of"),
)

STAGE = (
    _text("id", "its name", required=True),
    _text("title", "what it is, in words"),
    _text("netlist", "its cards, one a line", required=True),
    _text("source_node", "the node its signal enters at", required=True),
    _text("out_node", "the node its signal leaves from", required=True),
    _figure("gain_db", "gain it should have", "dB", None),
    _figure("gain_hz", "frequency of that; default 1 kHz", "Hz"),
    _figure("tolerance_db", "how far it may be off; default 2 dB", "dB"),
)

TABLES: Mapping[str, tuple[Entry, ...]] = {
    "": HEAD,
    "mains": MAINS,
    "seat": SEAT,
    "rail": RAIL,
    "capacitor": CAPACITOR,
    "resistor": RESISTOR,
    "winding": WINDING,
    "stage": STAGE,
}

ROWS = tuple(name for name in TABLES if name)
"""The tables that may stand many times (``[[seat]]``)."""
