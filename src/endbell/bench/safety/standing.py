"""What the sheet says of the mains, the tap and the protection: every safety line asks for it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import log

from ..facts import Fact, fact, facts
from ..limits import bounds_for
from ..lines import Bound
from ..readings import Bench, Reading
from ..telling import shown, usable
from .leakage import Network
from .mains import nearest_tap


@dataclass(frozen=True, slots=True)
class Mains:
    """``volts``: rms, read or nominal; ``high``: the highest to expect; ``told``: which it is."""

    volts: float
    high: float
    hertz: float
    told: str
    reading: Reading | None


@dataclass(frozen=True, slots=True)
class Tap:
    """The mains tap in use, V, and how that is known."""

    volts: float
    told: str
    reading: Reading | None


def practice(bench: Bench) -> str:
    """The practice of the sheet where its mains is known, else 'iec'."""
    known = {row["id"] for row in facts("safety", "mains")}
    return bench.practice if bench.practice in known else "iec"


def mains_of(bench: Bench) -> Mains:
    """Today's mains: as read at the socket, else the nominal one.

    That of the practice, unless the reading (or, without one, every tap) is far from it: an amp for
    117 V in a country of 230 V stands behind a transformer, and is reckoned with its own mains.
    """
    reading = bench.reading("mains-volts")
    read = usable(bench, "mains-volts")
    row = mains_row(bench)
    nominal = float(row["nominal"])
    volts = nominal if read is None else read
    highs = [b.high for b in bounds_for("mains-volts", row["id"], "") if b.high is not None]
    high = max([volts, *highs])
    if not _near(volts, nominal):
        high = volts * max([1.0, *(h / nominal for h in highs)])
    told = "nominal, not measured" if read is None else "as measured"
    return Mains(
        volts,
        high,
        bench.circuit.mains_hz or float(row["hertz"]),
        f"{shown(volts, 'V')} ({told})",
        None if read is None else reading,
    )


def mains_row(bench: Bench) -> Fact:
    """The row of the mains that the sheet is about: the practice's own where it can be."""
    own = fact("safety", "mains", practice(bench))
    read = usable(bench, "mains-volts")
    taps = [tap.volts for tap in bench.circuit.mains if tap.volts > 0]
    looked = taps if read is None else [read]
    if not looked or any(_near(volts, float(own["nominal"])) for volts in looked):
        return own
    return min(
        facts("safety", "mains"),
        key=lambda row: min(abs(log(volts / float(row["nominal"]))) for volts in looked),
    )


def _near(volts: float, nominal: float) -> bool:
    return abs(log(volts / nominal)) < log(1 + rule("mains-near"))


def tap_of(bench: Bench, mains: Mains) -> Tap | None:
    """The tap in use: as read, else the only one, else the nearest to the mains, which is said."""
    read = usable(bench, "tap-set")
    if read is not None and read > 0:
        return Tap(read, f"the {shown(read, 'V')} tap, as read", bench.reading("tap-set"))
    taps = [tap.volts for tap in bench.circuit.mains]
    nearest = nearest_tap(taps, mains.volts)
    if nearest is None:
        return None
    if len(taps) == 1:
        return Tap(nearest, f"the {shown(nearest, 'V')} primary, the only one", None)
    told = f"the {shown(nearest, 'V')} tap, taken as the one in use: note which it is"
    return Tap(nearest, told, None)


def conductors(bench: Bench) -> int | None:
    """Conductors of the mains cord, as counted."""
    read = usable(bench, "cord-kind")
    return None if read is None else round(read)


def protection(bench: Bench) -> str:
    """Protection class as it stands: an earthed amp with a two-wire cord is not earthed, one that
    was given a third wire is.
    """
    counted = conductors(bench)
    drawn = bench.circuit.protection
    if counted == 2 and drawn == "I":
        return "0"
    if counted == 3 and drawn == "0":
        return "I"
    return drawn


def network_of(bench: Bench, name: str) -> Network | None:
    """The measuring network of that name, or that of the practice where none is named."""
    for row in facts("safety", "networks"):
        if row["id"] == name or (not name and practice(bench) in row["practices"].split(";")):
            return Network(
                row["id"],
                row["title"],
                float(row["series_ohm"]),
                float(row["parallel_farad"]),
                row["source"],
                row["confidence"],
                *(float(row[key]) if row[key] else None for key in _BODY),
            )
    return None


_BODY = ("body_ohm", "filter_ohm", "filter_farad")


def words_of(reading: Reading) -> set[str]:
    """Words of a reading's note and of what was typed, in lower case."""
    return set(re.findall(r"[^\W_]+(?:-[^\W_]+)*", f"{reading.typed} {reading.note}".lower()))


def rule(name: str) -> float:
    """A number of ``data/safety/rules.csv``."""
    return float(fact("safety", "rules", name)["value"])


def rule_bound(name: str, low: float | None, high: float | None, title: str = "") -> Bound:
    """A bound that follows from a rule, with the rule's words, source and confidence."""
    row = fact("safety", "rules", name)
    return Bound(low, high, title or row["words"], row["source"], row["confidence"])
