"""A supply as capacitors joined by resistors: unloaded voltages, and how it discharges.

Nodal analysis: C·dv/dt = -G·v.  G is the matrix of conductances (Laplacian of the resistors
between nodes, plus each node's way to the chassis), C the capacitance at each node.  With
x = C^½·v the matrix is symmetric, so its eigenvalues are real and the solution a sum of decaying
exponentials (Desoer and Kuh, Basic Circuit Theory, ch. on RC networks: from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import inf, log

import numpy as np
from numpy.typing import NDArray

from ..figures import checked

Array = NDArray[np.float64]

_LINK = 1e-3  # ohm: less joins two nodes to one


@dataclass(frozen=True, slots=True)
class Rails:
    """A supply. ``farad``: capacitance at each node, shape (n,); ``siemens``: matrix of
    conductances, shape (n, n), S.  ``node``: number of the node that every rail's name stands for:
    rails joined by a choke or a link share one.
    """

    node: Mapping[str, int]
    farad: Array
    siemens: Array

    def names(self, node: int) -> tuple[str, ...]:
        """Names of the rails that are this node."""
        return tuple(name for name, n in self.node.items() if n == node)


def rails(
    farad: Mapping[str, float],
    between: Sequence[tuple[str, str, float]],
    to_chassis: Sequence[tuple[str, float]],
) -> Rails:
    """A supply from its parts: F at each rail, (rail, rail, ohm) and (rail, ohm to the chassis).

    Raises ValueError for a part that cannot be or is at an unknown rail.
    """
    names = tuple(farad)
    joined = {name: name for name in names}
    for a, b, ohm in between:
        if _ohm(ohm) < _LINK:
            old, new = joined[_known(joined, b)], joined[_known(joined, a)]
            joined = {name: new if to == old else to for name, to in joined.items()}
    heads = tuple(dict.fromkeys(joined.values()))
    node = {name: heads.index(joined[name]) for name in names}
    siemens = np.zeros((len(heads), len(heads)))
    for a, b, ohm in between:
        i, j = node[_known(node, a)], node[_known(node, b)]
        if i != j:
            siemens[[i, j], [i, j]] += 1.0 / ohm
            siemens[[i, j], [j, i]] -= 1.0 / ohm
    for a, ohm in to_chassis:
        i = node[_known(node, a)]
        siemens[i, i] += 1.0 / max(_ohm(ohm), _LINK)
    values = np.zeros(len(heads))
    for name, value in farad.items():
        values[node[name]] += checked("capacitance", value, least=0.0)
    return Rails(node, values, siemens)


def volts_at(supply: Rails, start: Array, seconds: float) -> Array:
    """Volts at every node with a capacitor after ``seconds``; others 0. ``start``: (n,) volts."""
    charged = supply.farad > 0
    volts = np.zeros(supply.farad.size)
    if charged.any():
        rates, modes, root = _modes(supply, charged)
        weights = modes.T @ (root * start[charged])
        volts[charged] = (modes @ (weights * np.exp(-rates * seconds))) / root
    return volts


def time_below(supply: Rails, start: Array, target: float) -> float:
    """Seconds until every capacitor is below ``target`` volts; infinite where one never is.

    The highest voltage of a passive network never rises, so there is one crossing.
    ``start``: volts at every node, shape (n,), of either sign.
    """
    charged = supply.farad > 0
    if not charged.any() or float(np.max(np.abs(start[charged]))) <= target:
        return 0.0
    if target <= 0:
        return inf
    if any(_stays(supply, group, start) > target for group in groups(supply)):
        return inf
    rates, modes, root = _modes(supply, charged)
    weights = modes.T @ (root * start[charged])

    scaled = modes * weights / root[:, None]

    def over(seconds: float) -> float:
        """Logarithm of the highest voltage over the target: close to a straight line in time."""
        volts = float(np.abs(scaled @ np.exp(-rates * seconds)).max())
        return log(max(volts / target, 1e-300))

    low, high = 0.0, 1.0 / float(rates.max())
    while over(high) > 0 and high < 1e12:
        low, high = high, 2.0 * high
    return _crossing(over, low, high)


def _crossing(over: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function crosses 0 from ``low`` to ``high``: false position (Illinois)."""
    f_low, f_high = over(low), over(high)
    side = 0
    for _ in range(200):
        middle = (low * f_high - high * f_low) / (f_high - f_low)
        f = over(middle)
        if abs(f) < 1e-9 or high - low < 1e-12 * high:
            return middle
        if f > 0:
            low, f_low = middle, f
            f_high = f_high / 2 if side == 1 else f_high
            side = 1
        else:
            high, f_high = middle, f
            f_low = f_low / 2 if side == -1 else f_low
            side = -1
    return high


def bled(supply: Rails, group: tuple[int, ...]) -> bool:
    """Whether something leads from a group of nodes to the chassis."""
    rows = supply.siemens[list(group)]
    return bool(np.any(rows.sum(axis=1) > 1e-9 * np.abs(rows).max()))


def _stays(supply: Rails, group: tuple[int, ...], start: Array) -> float:
    """Volts that a group settles at: 0 where it is bled, else its charge shared out."""
    index = list(group)
    farad = supply.farad[index]
    if farad.sum() == 0 or bled(supply, group):
        return 0.0
    return abs(float(farad @ start[index] / farad.sum()))


def unloaded(supply: Rails, fed: Mapping[str, float]) -> Array:
    """Volts at every node with some rails held at a voltage and only bleeders drawing; (n,).

    A node that nothing feeds is at 0 V.
    """
    volts = np.zeros(supply.farad.size)
    held = np.zeros(supply.farad.size, dtype=bool)
    for name, value in fed.items():
        volts[supply.node[_known(supply.node, name)]] = value
        held[supply.node[name]] = True
    free = ~held
    if free.any() and held.any():
        inner = supply.siemens[np.ix_(free, free)]
        pull = -supply.siemens[np.ix_(free, held)] @ volts[held]
        # a node on its own has a row of zeros; the least-norm solution leaves it at 0 V
        volts[free] = np.linalg.lstsq(inner, pull, rcond=1e-12)[0]
    return volts


def groups(supply: Rails) -> tuple[tuple[int, ...], ...]:
    """Nodes that resistors join, as groups of numbers, in the order of the nodes."""
    left = list(range(supply.farad.size))
    found: list[tuple[int, ...]] = []
    while left:
        group = [left.pop(0)]
        for i in group:
            near = [j for j in left if supply.siemens[i, j] != 0]
            group += near
            left = [j for j in left if j not in near]
        found.append(tuple(sorted(group)))
    return tuple(found)


def _modes(supply: Rails, charged: NDArray[np.bool_]) -> tuple[Array, Array, Array]:
    """Rates (1/s), modes (columns) and C^½ of the nodes with capacitors.

    The others carry no charge: they follow at once, and drop out (Schur complement).
    """
    siemens = supply.siemens[np.ix_(charged, charged)]
    if not charged.all():
        across = supply.siemens[np.ix_(charged, ~charged)]
        inner = supply.siemens[np.ix_(~charged, ~charged)]
        siemens = siemens - across @ np.linalg.lstsq(inner, across.T, rcond=1e-12)[0]
    root = np.sqrt(supply.farad[charged])
    rates, modes = np.linalg.eigh(siemens / np.outer(root, root))
    return np.maximum(rates, 0.0), modes, root


def _known(names: Mapping[str, object], name: str) -> str:
    if name not in names:
        raise ValueError(f"no rail {name!r}: there are {', '.join(names) or 'none'}")
    return name


def _ohm(ohm: float) -> float:
    return checked("resistance", ohm, least=0.0)
