"""The simpler model of benchmarks/naive.py as a network, solved by pgmpy's variable elimination.

Variables: the model M, the week B, the origin of every part, and every mark (seen or not).  The
week a part was made is summed out beforehand, in the tables; with it in the network each part would
need a table of weeks by weeks by origins, 0.6 GB on the whole grid.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from .naive import Simple

Array = NDArray[np.float64]


def why_not() -> str | None:
    """Why the peer can't be asked; None if it can."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # its own use of things that will change
            import pgmpy.inference  # noqa: F401
    except ImportError as error:
        return f"pgmpy is not installed here ({error})"
    return None


@dataclass(frozen=True)
class Network:
    """A network with its evidence: mark number -> the name of its variable."""

    solver: Any
    parts: tuple[str, ...]
    seen: dict[int, str]


def network(model: Simple) -> Network:
    """The network of a dossier, ready to be asked."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

    rivals, weeks = model.prior.shape
    net = DiscreteBayesianNetwork()

    def add(name: str, table: Array, given: tuple[tuple[str, int], ...] = ()) -> None:
        net.add_node(name)
        net.add_edges_from((parent, name) for parent, _ in given)
        parents = [g for g, _ in given] or None
        sizes = [n for _, n in given] or None
        net.add_cpds(TabularCPD(name, table.shape[0], table, parents, sizes))

    add("M", model.odds[:, None])
    add("B", model.prior.T, (("M", rivals),))
    for part, origin in model.origins.items():
        add(f"S {part}", origin[:, None])
    seen: dict[int, str] = {}
    for n, (part, table) in model.said.items():
        seen[n] = f"mark {n}"
        known = (("B", weeks), (f"S {part}", 3))
        if table.shape[0] > 1:
            known = (("M", rivals), *known)
        p = table.reshape(-1)
        add(seen[n], np.vstack([p, 1 - p]), known)
    return Network(VariableElimination(net), tuple(model.origins), seen)


def ask(net: Network, name: str, left_out: int | None = None) -> Array:
    """The distribution of one variable, given all marks but one."""
    evidence = {variable: 0 for n, variable in net.seen.items() if n != left_out}
    found = net.solver.query([name], evidence, show_progress=False)
    return np.asarray(found.values)


def everything(net: Network) -> tuple[Array, dict[str, Array], dict[int, Array]]:
    """p(B), the origins of every part, and p(B) without each mark."""
    origins = {part: ask(net, f"S {part}") for part in net.parts}
    return ask(net, "B"), origins, {n: ask(net, "B", n) for n in net.seen}
