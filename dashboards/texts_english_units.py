"""English texts of the choice of units and of what finding blocks add about causes."""

from __future__ import annotations

UNITS_TEXTS: dict[str, str] = {
    "units.menu": "Units",
    "units.temperature": "Temperature",
    "units.pressure": "Pressure",
    "units.mass": "Mass and rate",
    "units.mark": "Decimal mark",
    "units.hours": "Clock",
    "units.date": "Date",
    "units.temperature.C": "°C",
    "units.temperature.F": "°F",
    "units.pressure.bar": "bar",
    "units.pressure.psi": "psi",
    "units.mass.kg": "kg",
    "units.mass.lb": "lb",
    "units.mark.point": "1.5",
    "units.mark.comma": "1,5",
    "units.hours.24": "19:30",
    "units.hours.12": "7:30 pm",
    "units.date.day": "3 Mar",
    "units.date.month": "Mar 3",
    "units.how": "Kept by this browser for all pages, reports and files. Times are always the plant's.",
    "finding.speaks_for": "for:",
    "finding.speaks_against": "against:",
}
