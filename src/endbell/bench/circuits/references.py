"""What the rows of a circuit say of each other: rails, pairs and taps that are not there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ...dossier.limits import visible
from ...dossier.values import Fault, nearest_words
from ..circuit import Circuit


def references(circuit: Circuit) -> Iterator[tuple[str, int, Fault]]:
    """Names that lead nowhere: (table, number of the row from 0, what is wrong)."""
    rails = [rail.id for rail in circuit.rails]
    seats = [seat.at for seat in circuit.seats]
    windings = [winding.id for winding in circuit.windings]
    named: list[tuple[str, int, str, str, list[str]]] = []
    for n, seat in enumerate(circuit.seats):
        named += [("seat", n, "rail", seat.rail, rails), ("seat", n, "pair", seat.pair, seats)]
    named += [("rail", n, "fed_from", r.fed_from, rails) for n, r in enumerate(circuit.rails)]
    named += [("capacitor", n, "rail", c.rail, rails) for n, c in enumerate(circuit.capacitors)]
    named += [("resistor", n, "bleeds", r.bleeds, rails) for n, r in enumerate(circuit.resistors)]
    named += [("winding", n, "tap_of", w.tap_of, windings) for n, w in enumerate(circuit.windings)]
    for table, n, key, name, known in named:
        if name and name not in known:
            yield table, n, _nowhere(key, name, known)
    for n, seat in enumerate(circuit.seats):
        other = circuit.seat(seat.pair) if seat.pair else None
        if other is not None and other.pair != seat.at:
            found = f'pair is "{visible(seat.pair)}", which does not name {visible(seat.at)} back'
            yield "seat", n, Fault(found, "two seats that name each other")


def _nowhere(key: str, name: str, known: Iterable[str]) -> Fault:
    words = list(known)
    accepted = ", ".join(words[:12]) or "nothing: none is drawn"
    return Fault(
        f'{key} is "{visible(name)}", which is not drawn', accepted, nearest_words(name, words)
    )
