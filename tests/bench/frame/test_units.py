"""What a technician writes is read as meant, or refused with what would do."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from endbell.bench.kinds import UNITS
from endbell.bench.telling import shown
from endbell.bench.units import Measure, measure, spread
from endbell.dossier.values import Fault


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("8.2k", "ohm", 8200.0),
        ("4k7", "ohm", 4700.0),
        ("4k7 ohm", "ohm", 4700.0),
        ("8R2", "ohm", 8.2),
        ("0R08", "ohm", 0.08),
        ("0.08 ohm", "ohm", 0.08),
        ("1M", "ohm", 1e6),
        ("1.5 Mohm", "ohm", 1.5e6),
        ("220 megohms", "ohm", 220e6),
        ("100 K", "ohm", 100e3),
        ("68 kΩ", "ohm", 68e3),
        ("12 000", "ohm", 12000.0),
        ("470 nF", "F", 470e-9),
        ("0.022u", "F", 22e-9),
        ("0,022 µF", "F", 22e-9),
        ("2n2", "F", 2.2e-9),
        ("0.02 MFD", "F", 20e-9),
        ("250 mmfd", "F", 250e-12),
        ("2,2 mA", "A", 2.2e-3),
        ("1.234,5 mA", "A", 1.2345),
        ("-12.5 V", "V", -12.5),
        ("−12.5V", "V", -12.5),
        ("- 12.5 V", "V", -12.5),
        ("120mV rms", "V", 0.12),
        ("325 VDC", "V", 325.0),
        ("6.3 V~", "V", 6.3),
        ("6V3", "V", 6.3),
        ("1A6", "A", 1.6),
        ("82 Hz", "Hz", 82.0),
        ("1 kHz", "Hz", 1000.0),
        ("22 °C", "K", 295.15),
        ("71.6 °F", "K", 295.15),
        ("295 K", "K", 295.0),
        ("180 cm", "m", 1.8),
        ("3 min", "s", 180.0),
        ("-72 dB", "dB", -72.0),
        ("+4 dBu", "V", 0.7745966692 * 10 ** (4 / 20)),
        ("0 dBV", "V", 1.0),
        ("5 %", "1", 0.05),
        ("3", "1", 3.0),
        ("330", "V", 330.0),
        ("1.5e3 V", "V", 1500.0),
    ],
)
def test_a_reading_is_taken_as_the_technician_means_it(text: str, unit: str, value: float) -> None:
    found = measure(text, unit)
    assert isinstance(found, Measure), found
    assert found.value == pytest.approx(value, rel=1e-9)


def test_tens_stay_exact() -> None:
    assert measure("470 nF", "F") == Measure(4.7e-07)
    assert measure("0.022u", "F") == Measure(2.2e-08)


def test_a_meter_at_the_end_of_its_range_says_more_than_or_less_than() -> None:
    assert measure(">200M", "ohm") == Measure(200e6, ">")
    assert measure("< 0.5 V", "V") == Measure(0.5, "<")


@pytest.mark.parametrize(
    ("text", "unit", "found", "accepted"),
    [
        ("", "V", "nothing is written", "a voltage"),
        ("   ", "V", "nothing is written", "a voltage"),
        ("nan", "V", "not a number", "a voltage"),
        ("inf", "ohm", "over its range", "not-possible"),
        ("OL", "ohm", "over its range", '">1M"'),
        ("∞", "ohm", "over its range", "not-possible"),
        ("12 V", "ohm", "V is a voltage, not a resistance", "a resistance"),
        ("120mV", "A", "mV is a voltage, not a current", "a current"),
        ("12 wibble", "V", '"wibble" is no unit', "a voltage"),
        ("12 V/s", "V", "no unit", "a voltage"),
        ("1,500", "V", "it can be 1.5 or 1500", "a voltage"),
        ("1.2.3 V", "V", "no single number", "a voltage"),
        ("10 V p-p", "V", "peak value", "rms or dc"),
        ("17 Vpeak", "V", "peak value", "rms or dc"),
        ("50 mF", "F", "microfarad, today millifarad", "50 uF"),
        ("hot", "V", "no figure", "a voltage"),
        ("V 12", "V", "no figure", "a voltage"),
        ("1e200 V", "V", "more than any amp shows", "a voltage"),
        ("12 V" + " " * 100 + "x", "V", "characters", "a voltage"),
        ("__import__('os')", "V", "no figure", "a voltage"),
        ("9" * 59, "V", "no single number", "a voltage"),
    ],
)
def test_what_is_no_reading_is_refused_with_what_would_do(
    text: str, unit: str, found: str, accepted: str
) -> None:
    fault = measure(text, unit)
    assert isinstance(fault, Fault), fault
    assert found in fault.found
    assert accepted in fault.accepted


def test_an_uncertainty_is_a_share_a_figure_with_its_unit_or_in_the_readings_own() -> None:
    assert spread("2 %", 300.0, "", "V") == pytest.approx(6.0)
    assert spread("500 mV", 300.0, "", "V") == pytest.approx(0.5)
    assert spread(0.5, 0.3, "mV", "V") == pytest.approx(0.0005)
    assert spread(1, 300.0, "", "V") == 1.0
    assert spread("0.5 °C", 295.0, "", "K") == pytest.approx(0.5)
    assert isinstance(spread("-1 V", 300.0, "", "V"), Fault)
    assert isinstance(spread("1 ohm", 300.0, "", "V"), Fault)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=70), st.sampled_from(UNITS))
def test_no_text_whatever_brings_it_down(text: str, unit: str) -> None:
    found = measure(text, unit)
    if isinstance(found, Measure):
        assert math.isfinite(found.value)
    else:
        assert found.found
        assert found.accepted


@settings(max_examples=200, deadline=None)
@given(
    st.floats(1e-9, 1e10, allow_nan=False).flatmap(lambda v: st.sampled_from([v, -v])),
    st.sampled_from(("V", "A", "ohm", "W", "F", "H", "Hz", "s", "1")),
)
def test_what_is_shown_reads_back_as_the_same_figure(value: float, unit: str) -> None:
    if unit == "F":
        value = math.copysign(
            min(abs(value), 1e-4), value
        )  # a millifarad is asked about, see above
    found = measure(shown(value, unit, 12), unit)
    assert isinstance(found, Measure), found
    assert found.value == pytest.approx(value, rel=1e-10)
