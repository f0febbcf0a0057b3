"""The network of one amp: the faults its circuit can have, at the priors its parts' ages give."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ..circuit import Circuit
from ..readings import Bench
from .ageing import ageing
from .network import Network
from .tables import Fault, faults, whole_network


@dataclass(frozen=True)
class Fitted:
    """``faults`` in the order of the network's rows; ``ages``: what the dossier said of each."""

    network: Network
    faults: tuple[Fault, ...]
    ages: tuple[str, ...]


def fitted(bench: Bench) -> Fitted:
    """The network of the amp on the bench."""
    kept = tuple(i for i, fault in enumerate(faults()) if can_have(bench.circuit, fault.needs))
    own = tuple(faults()[i] for i in kept)
    ages = tuple(ageing(fault, bench) for fault in own)
    return Fitted(_network(kept, tuple(a.times for a in ages)), own, tuple(a.says for a in ages))


@lru_cache(maxsize=8)
def _network(kept: tuple[int, ...], times: tuple[float, ...]) -> Network:
    """Kept for the next reading of the same amp: what a network has worked out is used again."""
    whole = whole_network()
    rows = list(kept)
    odds = whole.prior[rows] / (1.0 - whole.prior[rows]) * np.array(times)
    everywhere = whole.everywhere
    return replace(
        whole,
        prior=odds / (1.0 + odds),
        strength=whole.strength[rows],
        everywhere=None if everywhere is None else everywhere[rows],
    )


def can_have(circuit: Circuit, need: str) -> bool:
    """Whether a circuit has what a fault needs; one that is not drawn may have everything.

    Raises ValueError at a need that is no word of the table.
    """
    if need == "" or not circuit.seats:
        return True
    outputs = [seat for seat in circuit.seats if seat.use == "output"]
    match need:
        case "fixed bias":
            return any(seat.bias == "fixed" for seat in outputs) or not any(
                seat.bias for seat in outputs
            )
        case "cathode bias":
            return any(seat.bias == "cathode" for seat in outputs) or not any(
                seat.bias for seat in outputs
            )
        case "push-pull":
            return len(outputs) > 1
        case "valve rectifier":
            return circuit.rectifier not in ("", "silicon")
        case "line capacitor":
            return any(c.use == "line-to-chassis" for c in circuit.capacitors)
        case "bleeder":
            return any(r.bleeds for r in circuit.resistors)
        case "choke":
            return any(w.part == "choke" for w in circuit.windings)
        case "reverb":
            return any(seat.use.startswith("reverb") for seat in circuit.seats) or any(
                w.part == "rt" for w in circuit.windings
            )
        case "tremolo":
            return any(seat.use == "tremolo" for seat in circuit.seats)
        case _:
            raise ValueError(f"no circuit is asked whether it has {need!r}")
