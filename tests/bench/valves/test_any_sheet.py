"""Whatever is written on a sheet, however little its circuit says: lines and sentences, no fall."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

from hypothesis import given
from hypothesis import strategies as st

from endbell.bench.circuit import Circuit, Rail, Seat, Winding
from endbell.bench.kinds import line_kinds, line_subjects
from endbell.bench.lines import Judgement
from endbell.bench.valves.on_sheet import lines

from .amps import CATHODE, FIXED, bench_of, cathode_readings, fixed_readings, steady

READ = [
    k for k, subject in line_subjects().items() if subject == "valves" and line_kinds()[k].measured
]
PLACES = ["V1a", "V3", "V4", "V5", "V9", "A", "B", "C", "bias", "heat", "rect", ""]
values = st.one_of(
    st.floats(-1e300, 1e300),
    st.sampled_from([float("nan"), float("inf"), float("-inf")]),
    st.floats(-500.0, 500.0),
    st.sampled_from([0.0, -0.0, 1e-9, 1e9, 250.0, -43.0, 6.3, 0.05]),
)
maybe_volts = st.one_of(st.none(), st.floats(-100.0, 500.0))
maybe_ohm = st.one_of(st.none(), st.sampled_from([0.0, 1.0, 10.0, 130.0, 1500.0, 1e5]))
seats = st.builds(
    Seat,
    at=st.sampled_from(["V1a", "V3", "V4"]),
    type=st.sampled_from(["12AX7", "EL84", "6L6GC", "ECC83", "6V6", "GZ34", "XX99", ""]),
    use=st.sampled_from(["preamp", "inverter", "output", "rectifier", "reverb drive", "odd"]),
    plate=maybe_volts,
    screen=maybe_volts,
    cathode=maybe_volts,
    grid=maybe_volts,
    plate_ohm=maybe_ohm,
    cathode_ohm=maybe_ohm,
    screen_ohm=maybe_ohm,
    rail=st.sampled_from(["", "A", "B", "nowhere"]),
    pair=st.sampled_from(["", "V3", "V4", "nobody"]),
    bias=st.sampled_from(["cathode", "fixed", ""]),
    cathode_sharing=st.sampled_from([1, 2, 4]),
)
rails = st.builds(
    Rail,
    id=st.sampled_from(["A", "B", "bias"]),
    volts=st.floats(-60.0, 500.0),
    ripple=st.one_of(st.none(), st.floats(0.0, 20.0)),
    fed_from=st.sampled_from(["", "A", "B"]),
    through_ohm=maybe_ohm,
)
windings = st.builds(
    Winding,
    id=st.sampled_from(["hv", "op", "heat"]),
    part=st.sampled_from(["pt", "ot", "rt"]),
    use=st.sampled_from(["primary", "hv", "heater"]),
    volts=maybe_volts,
    dc_ohm=maybe_ohm,
)
circuits = st.builds(
    Circuit,
    id=st.just("x"),
    title=st.just("x"),
    source=st.just("an invented drawing"),
    confidence=st.just("invented world"),
    rectifier=st.sampled_from(["", "GZ34", "silicon", "QQ9"]),
    supply=st.sampled_from(["full-wave", "bridge", "doubler"]),
    seats=st.lists(seats, max_size=4, unique_by=lambda seat: seat.at).map(tuple),
    rails=st.lists(rails, max_size=3, unique_by=lambda rail: rail.id).map(tuple),
    capacitors=st.just(FIXED.capacitors),
    windings=st.lists(windings, max_size=3, unique_by=lambda w: w.id).map(tuple),
)
sheets = st.dictionaries(
    st.tuples(st.sampled_from(READ), st.sampled_from(PLACES)), values, max_size=12
)


def sound(circuit: Circuit, sheet: dict[tuple[str, str], float]) -> None:
    for line in lines(bench_of(circuit, sheet)):
        assert line.says.endswith("."), line.says
        assert "None" not in line.says and "nan V" not in line.says
        assert line.value is None or isfinite(line.value)
        if line.judgement is Judgement.NOT_MEASURED:
            assert line.value is None
        if line.judgement is Judgement.WITHIN:
            assert line.bounds
        assert line.spread is None or (isfinite(line.spread) and line.spread >= 0.0)


@steady(60)
@given(st.sampled_from([(FIXED, fixed_readings()), (CATHODE, cathode_readings())]), sheets)
def test_a_known_amp_with_anything_written_on_its_sheet(
    amp: tuple[Circuit, dict[tuple[str, str], float]], sheet: dict[tuple[str, str], float]
) -> None:
    sound(amp[0], amp[1] | sheet)


@steady(60)
@given(circuits, sheets)
def test_any_circuit_with_anything_written_on_its_sheet(
    circuit: Circuit, sheet: dict[tuple[str, str], float]
) -> None:
    sound(circuit, sheet)


@steady(40)
@given(st.sets(st.sampled_from(sorted(fixed_readings()))))
def test_leaving_readings_out_never_turns_a_good_amp_into_a_bad_one(
    left: set[tuple[str, str]],
) -> None:
    sheet = {key: value for key, value in fixed_readings().items() if key not in left}
    bad = (Judgement.LOW, Judgement.HIGH, Judgement.ODD, Judgement.IMPOSSIBLE)
    found = lines(bench_of(FIXED, sheet))
    assert [line for line in found if line.judgement in bad] == []


def test_readings_after_the_repair_count() -> None:
    bench = bench_of(FIXED, fixed_readings())
    first = replace(bench.readings[0], n=99, line="plate-volts", at="V1a", value=150.0)
    last = replace(first, n=100, value=196.0, after=True)
    found = lines(replace(bench, readings=(*bench.readings, first, last)))
    line = next(one for one in found if (one.id, one.at) == ("plate-volts", "V1a"))
    assert line.value == 196.0
    assert 100 in line.readings
