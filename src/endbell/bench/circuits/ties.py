"""Whether a netlist has one answer at all: what ties each node to the ground, what fights."""

from __future__ import annotations

from collections.abc import Iterable

from .cards import Netlist, NetlistError


class _Groups:
    """Nodes that hang together."""

    def __init__(self, nodes: Iterable[str]) -> None:
        self._of = {node: node for node in (*nodes, "0")}

    def of(self, node: str) -> str:
        while self._of[node] != node:
            node = self._of[node]
        return node

    def join(self, one: str, other: str) -> bool:
        """Whether they were apart until now."""
        one, other = self.of(one), self.of(other)
        self._of[one] = other
        return one != other


def check_tied(netlist: Netlist) -> None:
    """Raise :class:`NetlistError` where nothing says what voltage a node is at.

    A grid, the inputs of an E or G and a current source tie nothing; nor do two coupled coils tie
    each other: one end of a secondary has to be at the ground.
    """
    groups = _Groups(netlist.nodes)
    for part in netlist.parts:
        if part.kind in "RCLVE":
            groups.join(part.nodes[0], part.nodes[1])
    for pot in netlist.pots:
        groups.join(pot.nodes[0], pot.nodes[1])
        groups.join(pot.nodes[1], pot.nodes[2])
    for valve in netlist.valves:
        groups.join(valve.plate, valve.cathode)
        if valve.pentode:
            groups.join(valve.screen, valve.cathode)
    ground = groups.of("0")
    loose = [node for node in netlist.nodes if groups.of(node) != ground]
    if not loose:
        return
    items = (*netlist.parts, *netlist.pots, *netlist.valves)
    at = next(item for item in items if loose[0] in item.nodes)
    together = f" (with {', '.join(loose[1:6])})" if len(loose) > 1 else ""
    found = f'the node "{loose[0]}"{together} floats: nothing ties it to the ground'
    raise NetlistError(at.line, found, "a part from it to the rest; one end of a winding at 0")


def check_loops(netlist: Netlist, direct: bool) -> None:
    """Raise :class:`NetlistError` where two cards each say what one voltage is."""
    groups = _Groups(netlist.nodes)
    for part in netlist.parts:
        fixes = part.kind in "VE" or (direct and part.kind == "L")
        if fixes and not groups.join(part.nodes[0], part.nodes[1]):
            found = f"{part.name} closes a loop of voltage sources"
            found += " and coils" if direct else ""
            raise NetlistError(part.line, found, "a resistance somewhere in the loop")
