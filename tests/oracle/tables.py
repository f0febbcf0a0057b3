"""The invented tables of the twin's worlds: assumptions, confusion matrices, schemes."""

from __future__ import annotations

DATED = ("potentiometer", "output-transformer", "loudspeaker", "capacitor")
UNDATED = ("knobs", "faceplate", "covering", "cloth", "handle", "label", "chassis", "tank")

NUMBERS: dict[str, float] = {
    "replaced.period_share": 0.15,
    "period.half_width_weeks": 156,
    "service.median_weeks": 20,
    "service.sigma": 0.6,
    "service.old_stock_weight": 0.1,
    "service.old_stock_mean_weeks": 156,
    "stock_age.sigma": 0.35,
    "delivery.concentration": 0.4,
    "delivery.spread.0": 0.75,
    "delivery.spread.1": 0.15,
    "delivery.spread.2": 0.06,
    "delivery.spread.3": 0.03,
    "delivery.spread.4": 0.01,
    "married.cabinet.probability": 0.05,
    "married.speakers.probability": 0.0,
    "source.unlisted": 0.05,
    "source.replaced_unlisted": 0.5,
    "source.length_share.2": 0.005,
    "source.length_share.3": 0.97,
    "source.length_share.4": 0.03,
    "week_code.same": 0.7,
    "week_code.before": 0.15,
    "week_code.after": 0.15,
    "week_code.week_53_of_52": 0.02,
    "scheme.first_year": 1945,
    "scheme.before_weight": 0.02,
    "prior.leak": 0.01,
    "feature.leak": 0.02,
    "part.unexpected": 0.02,
    "document.leak": 0.0001,
    "document.other_amp": 0.02,
    "terminus.hard_leak": 0.0001,
    "terminus.soft_weeks": 104,
    "label.lag_median_weeks": 26,
    "label.lag_sigma": 0.8,
    "serial.leak": 0.01,
    "repair.leak": 0.01,
    "assembly_mark.chart-letters.misread": 0.03,
    "assembly_mark.chart-letters.before_weeks": 2,
    "assembly_mark.chart-letters.after_weeks": 1,
    "assembly_mark.year-stamp.misread": 0.05,
    "assembly_mark.year-stamp.before_weeks": 4,
    "assembly_mark.year-stamp.after_weeks": 0,
    "assembly_mark.hand-date.misread": 0.04,
    "assembly_mark.hand-date.before_weeks": 3,
    "assembly_mark.hand-date.after_weeks": 2,
    "next.stop_bits_per_minute": 0.02,
    "conflict.p_all_right": 0.01,
    "conflict.surprising": 0.02,
    "stable.year_mass": 0.02,
    "stable.end_weeks": 26,
    "level.outside.setup_minutes": 0,
    "level.back-off.setup_minutes": 3,
    "level.chassis-out.setup_minutes": 12,
    "level.loosened.setup_minutes": 10,
}
for _name, _median, _sigma, _old in (
    ("potentiometer", 14, 0.5, 0.02),
    ("output-transformer", 9, 0.5, 0.02),
    ("loudspeaker", 8, 0.5, 0.02),
    ("capacitor", 16, 0.6, 0.03),
    ("other", 15, 0.7, 0.04),
):
    NUMBERS |= {
        f"lag.{_name}.median_weeks": _median,
        f"lag.{_name}.sigma": _sigma,
        f"lag.{_name}.old_stock_weight": _old,
        f"lag.{_name}.old_stock_mean_weeks": 104,
        f"lag.{_name}.early_weight": 0.005,
    }
for _i, _name in enumerate((*DATED, *UNDATED, "other")):
    NUMBERS[f"replaced.{_name}.probability"] = round(0.06 + 0.03 * _i, 2)

PAIRS = {
    "3": "8",
    "8": "3",
    "1": "7",
    "7": "1",
    "5": "6",
    "6": "5",
    "0": "9",
    "9": "0",
    "2": "4",
    "4": "2",
}


def digit_matrix(right: float, partner: float) -> dict[str, dict[str, float]]:
    rest = (1 - right - partner) / 8
    return {
        t: {c: right if c == t else partner if c == PAIRS[t] else rest for c in "0123456789"}
        for t in "0123456789"
    }


def letter_matrix(right: float) -> dict[str, dict[str, float]]:
    az = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    return {t: {c: right if c == t else (1 - right) / 25 for c in az} for t in az}


MATRICES = {
    "digits": {"clear": None, "worn": digit_matrix(0.82, 0.1), "poor": digit_matrix(0.6, 0.2)},
    "letters": {"clear": None, "worn": letter_matrix(0.9), "poor": letter_matrix(0.7)},
}
CHART = {
    "id": "chart",
    "first_year": 1932,
    "years": "ABCDEFGHJKLM",
    "months": "ABCDEFGHIJKL",
    "order": "year-month",
}
LETTERS = {
    "years": {c: (1930 + i, 1950 + i, 1970 + i) for i, c in enumerate("ABCDEFGHJKLMNPRSTUVW")},
    "months": {**{str(n): n for n in range(1, 10)}, "O": 10, "N": 11, "D": 12},
}
PATENTS = [(year, 1_500_000 + 40_000 * (year - 1925)) for year in range(1925, 1977)]
MODELS = ("lantern-20", "lantern-20-reverb", "beacon-45")


ASSEMBLY = {
    "knobs": "chassis",
    "faceplate": "chassis",
    "chassis": "chassis",
    "covering": "cabinet",
    "cloth": "cabinet",
    "handle": "cabinet",
    "label": "cabinet",
    "tank": "reverb",
    "potentiometer": "chassis",
    "output-transformer": "chassis",
    "capacitor": "chassis",
    "loudspeaker": "speakers",
}
SHORT = {
    "potentiometer": "pot",
    "output-transformer": "ot",
    "capacitor": "cap",
    "loudspeaker": "sp",
}
