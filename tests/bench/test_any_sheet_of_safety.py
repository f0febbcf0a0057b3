"""Whatever is typed on a sheet of safety, transformers or components, it is answered in sentences."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

from hypothesis import given, settings
from hypothesis import strategies as st

from endbell.bench import components, safety, transformers
from endbell.bench.circuit import Circuit, MainsTap, Rail, Resistor, Winding
from endbell.bench.kinds import line_kinds, line_subjects
from endbell.bench.lines import Judgement
from endbell.bench.readings import Reading

from .amps import AMP, bench

OWN = sorted(
    line for line, of in line_subjects().items() if of in ("safety", "transformers", "components")
)
PLACES = (
    "",
    "elco-1",
    "cap-2",
    "A",
    "bias",
    "hv",
    "ot-8",
    "ot-primary",
    "R2",
    "pot-1@50",
    "us",
    "0.75",
    "nowhere",
)
READINGS = st.builds(
    Reading,
    n=st.integers(1, 9),
    line=st.sampled_from(OWN),
    at=st.sampled_from(PLACES),
    typed=st.just("?"),
    value=st.one_of(
        st.floats(allow_nan=True, allow_infinity=True),
        st.sampled_from([0.0, 1e-3, 0.5, 2.0, 3.0, 60.0, 117.0, 250.0, 1e6, -5.0]),
    ),
    spread=st.sampled_from([0.0, 0.1]),
    note=st.sampled_from(["", "T", "slow", "wire", "Y2"]),
)
CIRCUITS = st.sampled_from(
    [
        AMP,
        Circuit("bare", "Bare", "invented world", "invented world"),
        replace(AMP, protection="I", rectifier="silicon", supply="bridge"),
        replace(AMP, mains=(MainsTap(110.0), MainsTap(220.0)), resistors=()),
        replace(AMP, mains_watt=0.0, fuse=0.0),
        replace(AMP, rails=(Rail("A", 0.0), Rail("B", -0.0, fed_from="B")), windings=()),
        replace(AMP, resistors=(Resistor("R2", 0.0, 0.0), Resistor("pot-1", 0.0, use="pot odd"))),
        replace(AMP, windings=(Winding("hv", "pt", "hv", volts=0.0, dc_ohm=0.0, turns=0.0),)),
    ]
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(
    st.lists(READINGS, max_size=8),
    CIRCUITS,
    st.sampled_from(["iec", "iet", "vde", "us", "elsewhere"]),
    st.sampled_from([293.15, 20.0, 310.0]),
)
def test_every_line_is_a_sentence_and_nothing_that_cannot_be_passes(
    readings: list[Reading], circuit: Circuit, practice: str, ambient: float
) -> None:
    sheet = bench(*readings, circuit=circuit, practice=practice, ambient=ambient)
    for subject in (safety, transformers, components):
        for line in subject.lines(sheet):
            kind = line_kinds()[line.id]
            assert line.says[:1].strip() and line.says.endswith((".", "?")), line
            assert line.value is None or isfinite(line.value), line
            if line.judgement is Judgement.WITHIN:
                assert line.value is not None
                assert kind.lowest <= line.value <= kind.highest, line
            for bound in line.bounds:
                assert bound.low is None or isfinite(bound.low), line
                assert bound.high is None or isfinite(bound.high), line
