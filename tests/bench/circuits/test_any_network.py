"""What holds for every network, whatever is in it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from endbell.bench.circuits.cards import Netlist, Part
from endbell.bench.circuits.mna import driven, impedance, noise, silent, solve, transfer

NODES = ("a", "b", "c", "d")
HZ = np.array([1.0, 60.0, 1000.0, 30_000.0])
SIZES = {"R": (10.0, 1e7), "C": (1e-11, 1e-4), "L": (1e-4, 100.0)}

values = st.floats(0.0, 1.0)
ends = st.sampled_from([(p, q) for n, p in enumerate(("0", *NODES)) for q in NODES[n:]])


@st.composite
def passive(draw: st.DrawFn) -> Netlist:
    """Resistors from every node to the ground, anything between them."""
    parts = [_part("R", f"RG{node}", (node, "0"), draw(values)) for node in NODES]
    for n in range(draw(st.integers(2, 7))):
        kind = draw(st.sampled_from("RCL"))
        pair = draw(ends)
        if pair[0] != pair[1]:
            parts.append(_part(kind, f"{kind}{n}", pair, draw(values)))
    return Netlist(parts=tuple(parts), nodes=NODES)


def _part(kind: str, name: str, nodes: tuple[str, str], where: float) -> Part:
    low, high = SIZES[kind]
    return Part(kind, name, nodes, low * (high / low) ** where, 1)  # type: ignore[arg-type]


def injected(netlist: Netlist, node: str, amps: float = 1.0) -> Netlist:
    source = Part("I", f"I{node}", ("0", node), 0.0, 0, ac=amps)
    return replace(netlist, parts=(*netlist.parts, source))


@given(passive())
@settings(max_examples=40, deadline=None)
def test_a_passive_network_is_the_same_in_both_directions(network: Netlist) -> None:
    there = solve(injected(network, "a"), HZ, {}).volts("c")
    back = solve(injected(network, "c"), HZ, {}).volts("a")
    scale = np.abs(impedance(network, "a", HZ, {}))
    assert np.all(np.abs(there - back) <= 1e-8 * scale + 1e-8 * np.abs(there))


@given(passive())
@settings(max_examples=40, deadline=None)
def test_a_passive_network_never_gives_power_back(network: Netlist) -> None:
    seen = impedance(network, "b", HZ, {})
    assert np.all(seen.real >= -1e-9 * np.abs(seen))


@given(passive(), st.floats(-5.0, 5.0), st.floats(-5.0, 5.0))
@settings(max_examples=40, deadline=None)
def test_two_sources_together_do_what_each_does_alone(
    network: Netlist, one: float, other: float
) -> None:
    both = solve(injected(injected(network, "a", one), "d", other), HZ, {}).volts("b")
    first = solve(injected(network, "a", one), HZ, {}).volts("b")
    second = solve(injected(network, "d", other), HZ, {}).volts("b")
    size = np.abs(first) + np.abs(second) + np.abs(both)
    assert np.all(np.abs(both - first - second) <= 1e-8 * size + 1e-12)


@given(passive(), st.floats(0.01, 100.0))
@settings(max_examples=40, deadline=None)
def test_impedances_scale_with_all_parts_and_gains_stay(network: Netlist, by: float) -> None:
    scaled = replace(
        network,
        parts=tuple(
            replace(p, value=p.value / by if p.kind == "C" else p.value * by) for p in network.parts
        ),
    )
    before, after = impedance(network, "a", HZ, {}), impedance(scaled, "a", HZ, {})
    assert np.allclose(after, by * before, rtol=1e-6)
    gain, same = (transfer(n, "a", "c", HZ, {}) for n in (network, scaled))
    assert np.allclose(same, gain, rtol=1e-6, atol=1e-12)


@given(passive(), st.floats(0.1, 10.0))
@settings(max_examples=40, deadline=None)
def test_larger_coils_and_capacitors_do_the_same_at_a_lower_frequency(
    network: Netlist, by: float
) -> None:
    slower = replace(
        network,
        parts=tuple(
            replace(p, value=p.value if p.kind == "R" else p.value * by) for p in network.parts
        ),
    )
    before = impedance(network, "a", HZ, {})
    assert np.allclose(impedance(slower, "a", HZ / by, {}), before, rtol=1e-6)


@given(passive())
@settings(max_examples=40, deadline=None)
def test_noise_of_a_network_is_that_of_its_resistance(network: Netlist) -> None:
    # Nyquist's theorem: 4 k T Re Z, whatever the network (H. Nyquist, Phys. Rev. 32, 1928)
    seen = impedance(network, "c", HZ, {}).real
    expected = np.sqrt(4.0 * 1.380649e-23 * 300.0 * np.maximum(seen, 0.0))
    found = noise(network, "c", HZ, {}, kelvin=300.0)
    assert np.allclose(found, expected, rtol=1e-4, atol=1e-15)


def test_what_is_driven_has_its_source_and_what_is_silent_has_none() -> None:
    network = Netlist(
        parts=(Part("R", "R1", ("a", "b"), 1e3, 1), Part("R", "R2", ("b", "0"), 1e3, 2)),
        nodes=("a", "b"),
    )
    live = driven(network, "a")
    assert solve(live, [100.0], {}).volts("b")[0] == 0.5
    assert driven(live, "a") == live
    assert np.all(solve(silent(live), [100.0], {}).x == 0.0)
