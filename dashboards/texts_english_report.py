"""English texts of reports."""

from __future__ import annotations

REPORT: dict[str, str] = {
    "report.made": "Report made {at}, {zone}. Times are plant time.",
    "report.decision": "Decision, by hand",
    "report.decision.what": "Decision",
    "report.decision.who": "Name",
    "report.decision.day": "Date",
    "report.no_number": "without a number",
    "report.windows": "Recipe windows",
    "report.no_windows": (
        "No recipe with windows was known: nothing could be judged against windows. Findings go by {ways}."
    ),
    "report.plain": (
        " * The recipe states a target alone: a plain start of {near} and {far} {u_c} about it stands for its limits, "
        "here and in what is found."
    ),
    "report.windows_how": "From 10 s means while the line was making product. Outside: time beyond the inner limits.",
    "report.channel": "Channel",
    "report.unit": "Unit",
    "report.low": "Low",
    "report.target": "Target",
    "report.high": "High",
    "report.least": "Least",
    "report.mean": "Mean",
    "report.most": "Most",
    "report.outside": "Outside",
    "report.inside": "never",
    "report.not_measured": "not measured",
    "report.under": "{time} under",
    "report.over": "{time} over",
    "report.versions": "Judged by",
    "report.what": "What",
    "report.version": "Name and version",
    "report.software": "Software",
    "report.line_file": "Line file",
    "report.until": "{version}, until {at}",
    "report.from": "{version}, from {at} on",
    "report.recipe_file": "Recipe file",
    "report.checkout": "from a checkout",
    "report.save": "Report",
    "report.no_notes": "Nobody wrote a note about this lot.",
}
