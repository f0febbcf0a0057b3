"""How a reader likes the pages: light or dark, millimetres or inches, which form of a date."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from .sessions import Person

THEMES = {"system": "as the device", "light": "light", "dark": "dark"}
UNITS = {"mm": "millimetres", "inch": "inches"}
DATES = {
    "day-month": "2 March 2026",
    "month-day": "March 2, 2026",
    "iso": "2026-03-02",
}
MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Reading:
    """The settings of a reader; ``theme``, ``units`` and ``dates`` are keys of the tables above."""

    theme: str = "system"
    units: str = "mm"
    dates: str = "day-month"

    @classmethod
    def of(cls, person: Person | None) -> Reading:
        """Those of a person; what is not known is as if it had not been set."""
        kept = person.settings if person else {}
        plain = cls()
        return cls(
            *(
                kept[name] if kept.get(name) in table else getattr(plain, name)
                for name, table in (("theme", THEMES), ("units", UNITS), ("dates", DATES))
            )
        )

    def day(self, when: date | datetime | str) -> str:
        """A day as this reader writes it; texts are ISO 8601, instants are shown in local time."""
        if isinstance(when, str):
            when = date.fromisoformat(when) if len(when) <= 10 else datetime.fromisoformat(when)
        if isinstance(when, datetime):
            when = when.astimezone().date()
        if self.dates == "iso":
            return when.isoformat()
        if self.dates == "month-day":
            return f"{when:%B} {when.day}, {when.year}"
        return f"{when.day} {when:%B} {when.year}"

    def moment(self, when: datetime | str) -> str:
        """Day and time of day."""
        at = datetime.fromisoformat(when) if isinstance(when, str) else when
        return f"{self.day(at)}, {at.astimezone():%H:%M}"

    def length(self, mm: float) -> str:
        """A length given in millimetres."""
        if self.units == "inch":
            return f"{mm / MM_PER_INCH:.3g} in"
        return f"{mm:.4g} mm"
