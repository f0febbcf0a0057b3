"""A netlist read into cards: one card a line, its first letter says what it is.

    R1 plate B 100k            C1 plate out 22n tol=20%       L1 a b 10
    K1 L1 L2 0.998             V1 B 0 250                     Vin in 0 AC 1
    I1 a b 1m                  E1 out 0 in 0 -50              G1 out 0 in 0 1.6m
    P1 top wiper end 1Meg law=log-10 at=0.5
    X1 plate grid cathode 12AX7            X2 plate screen grid cathode 6V6GT
    X3 plate grid cathode 12AX7 mu=100 rp=62.5k

``*``, ``#`` or ``;`` begins a comment, ``+`` goes on with the line before, ``.end`` ends it.  Nodes
are any words; ``0``, ``gnd`` and ``chassis`` are the ground.  Capitals and small letters are the
same in names, not in suffixes (:mod:`.values`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from ...dossier.limits import visible
from ...dossier.values import Fault, nearest_words
from ..facts import facts
from ..valves.models import UnknownValve, model
from .cards import GROUND, Coupling, Kind, Netlist, NetlistError, Part, Pot, ValveCard
from .values import figure

CARDS = "R, C, L, K, V, I, E, G, P (pot) or X (valve)"
_UNITS: Mapping[str, str] = {
    "R": "ohm",
    "C": "F",
    "L": "H",
    "V": "V",
    "I": "A",
    "E": "1",
    "G": "S",
}
_WRITTEN: Mapping[str, str] = {
    "R": "R1 node node 100k",
    "C": "C1 node node 22n",
    "L": "L1 node node 10",
    "V": "V1 node node 250, or V1 node node AC 1",
    "I": "I1 node node 1m, or I1 node node AC 1",
    "E": "E1 out out in in gain",
    "G": "G1 out out in in 1.6m",
    "K": "K1 L1 L2 0.998",
    "P": "P1 start wiper end 1Meg law=log-10 at=0.5",
    "X": "X1 plate grid cathode 12AX7, or X1 plate screen grid cathode 6V6GT",
}
_GIVEN = {"mu": "1", "rp": "ohm", "gm": "S", "vp": "V", "vg": "V", "vs": "V"}
_OPTION = re.compile(r"\s*=\s*")
_LAW_WORDS = {"log": "log-10", "audio": "log-10", "lin": "linear", "reverse-log": "reverse-log-10"}
MAX_CARDS = 400
_MAX_TEXT = 40_000


def parse(text: str) -> Netlist:
    """The netlist in ``text``; :class:`NetlistError` names the line and what would be accepted."""
    if len(text) > _MAX_TEXT:
        raise NetlistError(0, f"{len(text):,} characters", f"at most {_MAX_TEXT:,}")
    parts: list[Part] = []
    pots: list[Pot] = []
    couplings: list[Coupling] = []
    valves: list[ValveCard] = []
    seen: dict[str, int] = {}
    for number, words, options in _cards(text):
        name = words[0].upper()
        if name in seen:
            found = f"a second {visible(name, 20)} (the first is on line {seen[name]})"
            raise NetlistError(number, found, "each name once")
        seen[name] = number
        if len(seen) > MAX_CARDS:
            raise NetlistError(number, f"more than {MAX_CARDS} cards", "one stage of an amp")
        match name[0]:
            case "R" | "C" | "L" | "V" | "I" | "E" | "G":
                parts.append(_part(name[0], number, words, options))
            case "K":
                couplings.append(_coupling(number, words, options))
            case "P":
                pots.append(_pot(number, words, options))
            case "X":
                valves.append(_valve(number, words, options))
            case _:
                raise NetlistError(number, f'no card begins "{visible(words[0], 20)}"', CARDS)
    if not seen:
        raise NetlistError(0, "no card", f"cards that begin with {CARDS}")
    _check_couplings(parts, couplings)
    ends = [n for item in (*parts, *pots, *valves) for n in item.nodes]
    nodes = tuple(dict.fromkeys(n for n in ends if n != "0"))
    if "0" not in ends:
        raise NetlistError(0, "nothing is at the ground", f"a node called {' or '.join(GROUND)}")
    return Netlist(tuple(parts), tuple(pots), tuple(couplings), tuple(valves), nodes)


def turned(netlist: Netlist, pots: Mapping[str, float]) -> Netlist:
    """The netlist with pots set to a rotation, 0 to 1, by name."""
    names = {pot.name: pot for pot in netlist.pots}
    wanted = {name.upper(): at for name, at in pots.items()}
    for name, at in wanted.items():
        if name not in names:
            near = nearest_words(name, names)
            raise NetlistError(0, f"no pot {visible(name, 20)}", ", ".join(names) or "none", near)
        if not 0.0 <= at <= 1.0:
            raise NetlistError(names[name].line, f"{name} at {at:g}", "a rotation from 0 to 1")
    moved = tuple(replace(pot, at=wanted.get(pot.name, pot.at)) for pot in netlist.pots)
    return replace(netlist, pots=moved)


def node_of(netlist: Netlist, name: str) -> str:
    """A node as the netlist has it; :class:`NetlistError` for one it has not."""
    node = _node(name)
    if node != "0" and node not in netlist.nodes:
        known = ", ".join(netlist.nodes)
        near = nearest_words(node, netlist.nodes)
        raise NetlistError(0, f'no node "{visible(name, 30)}"', f"one of {known}", near)
    return node


def _cards(text: str) -> list[tuple[int, list[str], dict[str, str]]]:
    lines: list[tuple[int, str]] = []
    for number, raw in enumerate(text.splitlines(), start=1):
        line = re.split(r"[;#]", raw, maxsplit=1)[0].strip()
        if not line or line.startswith("*"):
            continue
        if line.startswith("+"):
            if not lines:
                raise NetlistError(number, "a + with no line before it", CARDS)
            lines[-1] = (lines[-1][0], f"{lines[-1][1]} {line[1:]}")
        elif line.lower() == ".end":
            break
        elif line.startswith("."):
            raise NetlistError(number, f'"{visible(line, 20)}"', "cards, and .end: nothing is run")
        else:
            lines.append((number, line))
    out: list[tuple[int, list[str], dict[str, str]]] = []
    for number, line in lines:
        words = _OPTION.sub("=", line).split()
        options: dict[str, str] = {}
        for word in words:
            key, equals, value = word.partition("=")
            if equals:
                options[key.lower()] = value
        plain = [word for word in words if "=" not in word]
        if not plain:
            raise NetlistError(number, f'"{visible(line, 30)}"', CARDS)
        out.append((number, plain, options))
    return out


def _part(letter: str, number: int, words: list[str], options: dict[str, str]) -> Part:
    kind: Kind = letter  # pyright: ignore[reportAssignmentType]
    ends = 4 if kind in "EG" else 2
    sources = kind in "VI"
    if len(words) < ends + 2 or (not sources and len(words) > ends + 2):
        raise NetlistError(number, f'"{visible(" ".join(words), 60)}"', _WRITTEN[kind])
    nodes = tuple(_node(word) for word in words[1 : ends + 1])
    _only(number, options, ("tol",) if kind in "RCL" else ())
    if nodes[0] == nodes[1]:
        found = f"{words[0]} with both ends at the node {nodes[0]}"
        raise NetlistError(number, found, "two nodes (capitals and small letters are the same)")
    if sources:
        value, ac, phase = _source(kind, number, words[3:])
        return Part(kind, words[0].upper(), nodes, value, number, ac, phase)
    value = _value(number, words[ends + 1], _UNITS[kind])
    if kind in "RCL" and not value > 0.0:
        raise NetlistError(number, f"{words[0]} of {value:g}", "a value above 0")
    tolerance = _value(number, options["tol"], "1") if "tol" in options else None
    return Part(kind, words[0].upper(), nodes, value, number, tolerance=tolerance)


def _source(kind: str, number: int, words: list[str]) -> tuple[float, float, float]:
    dc, ac, phase, rest = 0.0, 0.0, 0.0, list(words)
    if rest and rest[0].upper() != "AC":
        if rest[0].upper() == "DC":
            rest = rest[1:]
        if not rest:
            raise NetlistError(number, "DC without a value", _WRITTEN[kind])
        dc, rest = _value(number, rest[0], _UNITS[kind]), rest[1:]
    if rest:
        if rest[0].upper() != "AC" or not 2 <= len(rest) <= 3:
            raise NetlistError(number, f'"{visible(" ".join(rest), 40)}"', _WRITTEN[kind])
        ac = _value(number, rest[1], _UNITS[kind])
        phase = _value(number, rest[2], "1") if len(rest) == 3 else 0.0
    return dc, ac, phase


def _coupling(number: int, words: list[str], options: dict[str, str]) -> Coupling:
    _only(number, options, ())
    if len(words) < 4:
        raise NetlistError(number, f'"{visible(" ".join(words), 60)}"', _WRITTEN["K"])
    k = _value(number, words[-1], "1")
    if not 0.0 < k < 1.0:
        found = f"a coupling factor of {k:g}"
        raise NetlistError(number, found, "above 0 and below 1: some flux is always lost")
    return Coupling(words[0].upper(), tuple(w.upper() for w in words[1:-1]), k, number)


def _pot(number: int, words: list[str], options: dict[str, str]) -> Pot:
    _only(number, options, ("law", "at"))
    if len(words) != 5:
        raise NetlistError(number, f'"{visible(" ".join(words), 60)}"', _WRITTEN["P"])
    law = options.get("law", "linear").lower()
    law = _LAW_WORDS.get(law, law)
    laws = dict.fromkeys(row["taper"] for row in facts("components", "tapers"))
    if law not in laws:
        known = (*laws, *_LAW_WORDS)
        near = nearest_words(law, known)
        raise NetlistError(number, f'no law "{visible(law, 20)}"', ", ".join(known), near)
    ohm = _value(number, words[4], "ohm")
    at = _value(number, options.get("at", "0.5"), "1")
    if not ohm > 0.0 or not 0.0 <= at <= 1.0:
        found = f"{words[0]} of {ohm:g} ohm at {at:g}"
        raise NetlistError(number, found, "a resistance above 0, a rotation from 0 to 1")
    ends = (_node(words[1]), _node(words[2]), _node(words[3]))
    return Pot(words[0].upper(), ends, ohm, law, at, number)


def _valve(number: int, words: list[str], options: dict[str, str]) -> ValveCard:
    _only(number, options, (*_GIVEN, "set"))
    if len(words) not in (5, 6):
        raise NetlistError(number, f'"{visible(" ".join(words), 60)}"', _WRITTEN["X"])
    given = {
        key: _value(number, text, _GIVEN[key]) for key, text in options.items() if key != "set"
    }
    nodes, kind, chosen = tuple(_node(w) for w in words[1:-1]), words[-1], options.get("set", "")
    small = given.keys() & {"mu", "rp", "gm"}
    if small and (len(small) < 2 or any(given[key] <= 0.0 for key in small)):
        raise NetlistError(
            number,
            f"{words[0]} with {', '.join(sorted(small))} alone or not above 0",
            "two of mu, rp and gm, each above 0",
        )
    if not small:
        try:
            found = model(kind, chosen)
        except UnknownValve as error:
            raise NetlistError(
                number, str(error), "a valve with a model, or mu= and rp= on the card"
            ) from None
        if hasattr(found.valve, "kg2") and len(nodes) == 3:
            raise NetlistError(number, f"{kind} with three nodes", _WRITTEN["X"])
        if not hasattr(found.valve, "kg2") and len(nodes) == 4:
            raise NetlistError(number, f"{kind}, a triode, with four nodes", _WRITTEN["X"])
        wanted = {"vp", "vg", "vs"} if len(nodes) == 4 else {"vp", "vg"}
        if given and given.keys() != wanted:
            accepted = f"{', '.join(sorted(wanted))} together, or none: then it is solved"
            raise NetlistError(number, f"{words[0]} with {', '.join(sorted(given))}", accepted)
    return ValveCard(words[0].upper(), kind, nodes, number, given, chosen)


def _check_couplings(parts: list[Part], couplings: list[Coupling]) -> None:
    coils = [part.name for part in parts if part.kind == "L"]
    for coupling in couplings:
        for coil in coupling.coils:
            if coil not in coils:
                found = f"{coupling.name} couples {visible(coil, 20)}, which is no inductor here"
                accepted = ", ".join(coils) or "inductors, drawn as L cards"
                raise NetlistError(coupling.line, found, accepted, nearest_words(coil, coils))


def _node(word: str) -> str:
    node = word.lower()
    return "0" if node in GROUND else node


def _value(number: int, text: str, unit: str) -> float:
    value = figure(text, unit)
    if isinstance(value, Fault):
        raise NetlistError(number, value.found, value.accepted)
    return value


def _only(number: int, options: dict[str, str], known: tuple[str, ...]) -> None:
    for key in options:
        if key not in known:
            accepted = ", ".join(f"{name}=" for name in known) or "nothing with ="
            near = nearest_words(key, known)
            raise NetlistError(number, f'"{visible(key, 20)}="', accepted, near)
