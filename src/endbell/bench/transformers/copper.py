"""Copper: resistance against temperature, winding temperature from resistance, wire (IEC 60028).

The constants stand in ``data/transformers/copper.csv`` and ``rules.csv`` with their sources.
Temperatures in K, as everywhere inside.
"""

from __future__ import annotations

from math import pi

from ..facts import fact
from ..figures import checked, positive

KELVIN = 273.15  # 0 °C by definition (SI)
TWENTY = KELVIN + 20.0  # the reference temperature of IEC 60028


def coefficient() -> float:
    """Temperature coefficient of copper's resistance at 20 °C and constant mass, 1/K."""
    return float(fact("transformers", "copper", "temp_coeff_20C", "key")["value"])


def resistivity() -> float:
    """Resistivity of standard annealed copper at 20 °C, ohm·m."""
    return float(fact("transformers", "copper", "resistivity_20C", "key")["value"]) * 1e-6


def at_temperature(ohm_20: float, kelvin: float) -> float:
    """Resistance at ``kelvin`` of what has ``ohm_20`` at 20 °C: R20·(1 + α·(T - 20 °C)), IEC 60028.

    Raises ValueError for a negative resistance or a temperature outside -100 to 300 °C, where the
    straight line does not hold.

    >>> round(at_temperature(100.0, 273.15 + 70), 2)
    119.65
    """
    return checked("resistance", ohm_20, least=0.0) * _factor(kelvin)


def to_twenty(ohm: float, kelvin: float) -> float:
    """Resistance at 20 °C of what reads ``ohm`` at ``kelvin``: :func:`at_temperature` undone."""
    return checked("resistance", ohm, least=0.0) / _factor(kelvin)


def _factor(kelvin: float) -> float:
    celsius = checked("temperature", kelvin) - KELVIN
    if not -100 <= celsius <= 300:
        raise ValueError(f"copper at {celsius:.0f} °C is beyond the rule: -100 to 300 °C will do")
    return 1.0 + coefficient() * (celsius - 20.0)


def winding_rise(cold: float, hot: float, cold_kelvin: float, ambient_kelvin: float) -> float:
    """Rise of a winding above the ambient at the end, K, from its resistance cold and hot.

    ΔT = (R2 - R1)/R1·(234.5 + T1) - (T2 - T1), T in °C: the resistance method of IEC 60065 and
    60335.  ``cold_kelvin``: temperature of the cold winding, ``ambient_kelvin``: of the air at the
    end.
    """
    positive("cold resistance", cold)
    checked("hot resistance", hot, least=0.0)
    zero = float(fact("transformers", "rules", "copper-zero")["value"])
    first = checked("temperature", cold_kelvin) - KELVIN
    last = checked("temperature", ambient_kelvin) - KELVIN
    return (hot - cold) / cold * (zero + first) - (last - first)


def wire_ohm(metres: float, millimetres: float, kelvin: float = TWENTY) -> float:
    """Resistance of copper wire of that length and diameter (bare): ρ·l/A."""
    area = pi / 4 * (positive("diameter", millimetres) * 1e-3) ** 2
    return at_temperature(resistivity() * checked("length", metres, least=0.0) / area, kelvin)


def awg_diameter(gauge: float) -> float:
    """Diameter of bare wire of an American gauge, mm: 0.127·92^((36 - n)/39), ASTM B258."""
    return 0.127 * 92.0 ** ((36.0 - checked("gauge", gauge)) / 39.0)
