"""The vocabulary of a sheet file: every table, every key, what may stand there.

The row checks read it, the shipped JSON Schema is generated from it, and ``docs/formats/sheet.md``
is tested against it.
"""

from __future__ import annotations

from collections.abc import Mapping

from ..dossier.keys import Key
from .limits import PRACTICES
from .stages import Stage

FORMAT_NAME = "endbell-sheet"
FORMAT_NUMBER = 1
RESULTS = ("read", "not-possible")
RECORDING_KINDS = ("sine", "level steps", "sweep", "silence", "tremolo", "reverb", "impedance")

HEAD = (
    Key("format", "text", f"the form of this file: '{FORMAT_NAME}/{FORMAT_NUMBER}'"),
    Key("id", "text", "the shop's number of this sheet; default: the name of the file"),
    Key("dossier", "text", "the dossier of the amp: its id, or its file beside this one"),
    Key("practice", "text", "whose limits apply; default iec", choices=tuple(PRACTICES)),
    Key("on", "day", "the day of the work"),
    Key("by", "text", "who measured, where a row does not say"),
    Key("ambient", "text-or-number", "temperature of the shop; a bare number is in °C"),
    Key("note", "text", "anything else"),
)

READING = (
    Key("line", "text", "which line: an id such as earth-bond", required=True, weighs=True),
    Key("at", "text", "where: a valve, rail, winding, part of the circuit", weighs=True),
    Key("value", "text-or-number", "what the meter shows, with its unit or without", weighs=True),
    Key("unit", "text", "the unit, where it does not stand in value", weighs=True),
    Key("uncertainty", "text-or-number", "one standard deviation, in the same unit or in %"),
    Key("after", "yes-no", "whether it was taken after the repair; default false", weighs=True),
    Key("result", "text", "read (when left out) or not-possible", choices=RESULTS, weighs=True),
    Key("by", "text", "who read it"),
    Key("on", "day", "when"),
    Key("note", "text", "what else counts: Y2 on a capacitor, T on a fuse, why not possible"),
)

OVERRIDE = (
    Key("line", "text", "the line that is let pass", weighs=True),
    Key("at", "text", "only at this place of it", weighs=True),
    Key(
        "stage",
        "text",
        "instead of a line: every line of that stage that later steps wait for",
        choices=tuple(stage.value for stage in Stage),
        weighs=True,
    ),
    Key("by", "text", "who takes it upon himself", required=True, weighs=True),
    Key("reason", "text", "why", required=True, weighs=True),
    Key("on", "day", "when"),
)

RECORDING = (
    Key("kind", "text", "what was played", required=True, choices=RECORDING_KINDS, weighs=True),
    Key("file", "text", "WAV or FLAC, relative to this file", required=True, weighs=True),
    Key("full_scale", "text-or-number", "volts at the load of a full-scale sample", weighs=True),
    Key("load", "text-or-number", "the dummy load, ohm", weighs=True),
    Key("after", "yes-no", "whether it was made after the repair; default false", weighs=True),
    Key("by", "text", "who recorded it"),
    Key("on", "day", "when"),
    Key("note", "text", "anything else"),
)

REPLACED = (
    Key("part", "text", "id of the part, as the dossier has it", required=True, weighs=True),
    Key("by_what", "text", "what is fitted now"),
    Key("why", "text", "why the old one had to go"),
    Key("by", "text", "who did it"),
    Key("done", "edtf", "when"),
    Key("kept", "yes-no", "whether the old part was bagged for the owner; default false"),
    Key("bag", "text", "number of the bag"),
    Key("first", "text", "what the old part read"),
    Key("after", "text", "what the new part reads"),
    Key("note", "text", "anything else"),
)

FAULT = (
    Key("fault", "text", "what was found: id of a cause, or words", required=True, weighs=True),
    Key("at", "text", "where"),
    Key("part", "text", "the part, as the dossier has it"),
    Key("by", "text", "who found it"),
    Key("on", "day", "when"),
    Key("note", "text", "anything else"),
)

TABLES: Mapping[str, tuple[Key, ...]] = {
    "": HEAD,
    "reading": READING,
    "override": OVERRIDE,
    "recording": RECORDING,
    "replaced": REPLACED,
    "fault": FAULT,
}

ROWS = ("reading", "override", "recording", "replaced", "fault")
"""The tables that may stand many times (``[[reading]]``)."""

OPEN_TABLES = ("recording",)
"""Tables that take further keys of text or number, which the subject that reads them knows."""
