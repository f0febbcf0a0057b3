"""What a netlist consists of: its cards as data, and how a netlist that can't be used is told."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

GROUND = ("0", "gnd", "chassis")
"""Names of the node that everything is measured against."""

Kind = Literal["R", "C", "L", "V", "I", "E", "G"]


@dataclass(frozen=True, slots=True)
class Part:
    """A card of two nodes, or a controlled source of four.

    ``value``: ohm, F, H; V or A of DC; the gain of an E, siemens of a G.  ``ac``: amplitude (V or
    A) of a V or I for small signals, ``phase`` in degrees.  A current source drives from its first
    node through itself to the second.  ``tolerance``: share, None where the card does not say.
    """

    kind: Kind
    name: str
    nodes: tuple[str, ...]
    value: float
    line: int
    ac: float = 0.0
    phase: float = 0.0
    tolerance: float | None = None


@dataclass(frozen=True, slots=True)
class Pot:
    """A pot: three nodes (start of its track, wiper, end), ohm, law and where it stands (0 to 1).

    At rotation 0 the wiper is at the *end* node: that is where a volume control's ground is.
    """

    name: str
    nodes: tuple[str, str, str]
    ohm: float
    law: str
    at: float
    line: int


@dataclass(frozen=True, slots=True)
class Coupling:
    """Coupled inductors: every pair of ``coils`` with the factor ``k``."""

    name: str
    coils: tuple[str, ...]
    k: float
    line: int


@dataclass(frozen=True, slots=True)
class ValveCard:
    """A valve. ``nodes``: plate, grid, cathode of a triode; plate, screen, grid, cathode else.

    ``given``: what the card itself says: 'mu', 'rp', 'gm' (small-signal figures, no bias needed),
    or 'vp', 'vg', 'vs' (V against the cathode).  ``set``: name of the parameter set, '' the usual.
    """

    name: str
    type: str
    nodes: tuple[str, ...]
    line: int
    given: dict[str, float] = field(default_factory=dict[str, float])
    set: str = ""

    @property
    def pentode(self) -> bool:
        """Whether it has a screen of its own."""
        return len(self.nodes) == 4

    @property
    def plate(self) -> str:
        """Node of the plate."""
        return self.nodes[0]

    @property
    def screen(self) -> str:
        """Node of the screen; of the plate where there is none."""
        return self.nodes[1] if self.pentode else self.nodes[0]

    @property
    def grid(self) -> str:
        """Node of the control grid."""
        return self.nodes[-2]

    @property
    def cathode(self) -> str:
        """Node of the cathode."""
        return self.nodes[-1]


@dataclass(frozen=True, slots=True)
class Netlist:
    """A netlist read. ``nodes``: every node but the ground, in the order they appear."""

    parts: tuple[Part, ...] = ()
    pots: tuple[Pot, ...] = ()
    couplings: tuple[Coupling, ...] = ()
    valves: tuple[ValveCard, ...] = ()
    nodes: tuple[str, ...] = ()


class NetlistError(ValueError):
    """A netlist that can't be used: ``line`` (from 1; 0: no one line), ``found``, ``accepted``.

    ``nearest``: what comes near of what is known.
    """

    def __init__(self, line: int, found: str, accepted: str, nearest: tuple[str, ...] = ()) -> None:
        self.line, self.found, self.accepted, self.nearest = line, found, accepted, nearest
        place = f"netlist line {line}: " if line else "netlist: "
        hint = f" (did you mean {' or '.join(nearest)}?)" if nearest else ""
        super().__init__(f"{place}{found}; accepted: {accepted}{hint}")
