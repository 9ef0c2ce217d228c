"""How channels, units and numbers are written for people."""

from __future__ import annotations

import functools
import math

from dashboards.machine import mass_known, subject_title
from dashboards.shown_units import marked, shown_difference, shown_unit, shown_value
from dashboards.texts import say
from ingest.roles import RELATIVE, ROLES, split_key
from monitor.conditions.registry import CONDITIONS
from monitor.line import Line
from monitor.quantities.registry import UNITS

_UNIT_TEXT = {"1": "", RELATIVE: ""}

QUANTITY_UNITS: dict[str, str] = {**UNITS, "share": "%"}
"""Units of the monitor's derived quantities; shares carry their feeder after a colon."""


@functools.cache
def _titles() -> dict[str, str]:
    return {condition.name: condition.title for condition in CONDITIONS}


def condition_title(name: str) -> str:
    """What an operator would call a condition; its own name, spaced, where the monitor knows it no more."""
    return say(f"condition.{name}", _titles().get(name, name))


def priority_word(priority: int) -> str:
    """'act now', 'act soon', 'look this shift', 'note'."""
    return say(f"priority.{priority}")


def unit_of(line: Line | None, key: str) -> str:
    """Unit the reader chose, as people write it; '' where there is none or where the plant's unit is not known."""
    if line is not None and not unit_known(line, key):
        return ""
    unit = unit_inside(key)
    return _UNIT_TEXT.get(unit, shown_unit(unit))


def unit_known(line: Line, key: str) -> bool:
    """Whether the real unit of a channel is known; of a quantity made of kilograms, whether those are."""
    if key in line.relative_channels:
        return False
    return key in line.channels or "kg" not in unit_inside(key) or mass_known(line)


def unit_inside(key: str) -> str:
    """The fixed unit of a channel or quantity; '' where there is none."""
    role, _ = split_key(key)
    return ROLES[role].unit if role in ROLES else QUANTITY_UNITS.get(role, "")


def channel_title(line: Line, key: str) -> str:
    """'Z3 temperature', 'talc T4 rate', 'screw speed'."""
    role, _ = split_key(key)
    return " ".join(part for part in (subject_title(line, key), say(f"role.{role}", role)) if part)


def short_title(line: Line, key: str) -> str:
    """The name in a map row: the subject alone where its usual channel is meant, else the full title."""
    role, _ = split_key(key)
    if role in ("zone_temperature", "feeder_rate"):
        return subject_title(line, key)
    if role in ("melt_pressure", "melt_temperature", "vacuum"):
        subject = subject_title(line, key)
        return channel_title(line, key) if subject == "" else say(f"short.{role}", subject=subject)
    return channel_title(line, key)


def figure(value: float | None, key: str = "", line: Line | None = None) -> str:
    """A reading in the reader's unit, in the digits its role deserves; an en dash for none.

    line: where it is known; a channel whose real unit is not known there is not turned into another.
    """
    if line is not None and not unit_known(line, key):
        return shown_figure(value, key)
    if value is None or not math.isfinite(value):
        return "–"
    return shown_figure(shown_value(value, unit_inside(key)), key)


def figures_apart(value: float, limit: float | None, key: str, line: Line | None = None) -> tuple[str, str]:
    """A reading and its limit in the digits of the role, with more where both would read the same."""
    if limit is None:
        return figure(value, key, line), "–"
    told = figure(value, key, line), figure(limit, key, line)
    if told[0] != told[1] or value == limit:
        return told
    known = line is None or unit_known(line, key)
    a, b = (shown_value(v, unit_inside(key)) if known else v for v in (value, limit))
    places = next((n for n in range(1, 5) if _fixed(a, n) != _fixed(b, n)), 4)
    return _fixed(a, places), _fixed(b, places)


def shown_figure(value: float | None, key: str = "") -> str:
    """A reading that is in the shown unit already, in the digits its role deserves; an en dash for none."""
    if value is None or not math.isfinite(value):
        return "–"
    unit = unit_inside(key)
    if unit in ("kg/h", "kg"):
        return _three_figures(value)
    digits = {"kWh/kg": 3, "kg/h/rpm": 2, "1": 2, "m/min": 1, "A": 1}.get(unit, 0)
    if (unit == "%" and abs(value) < 10) or (unit == "rpm" and abs(value) < 100):
        digits = 1
    return _fixed(value, digits)


def rate(value: float) -> str:
    """Kilograms or kilograms an hour, in the reader's unit of mass: three figures."""
    return _three_figures(shown_value(value, "kg"))


def difference(value: float, unit: str, digits: int) -> str:
    """A difference given in a fixed unit, with its sign, in the reader's unit."""
    return signed(shown_difference(value, unit), digits)


def number(value: float, digits: int) -> str:
    """A plain number with the reader's decimal mark."""
    return _fixed(value, digits)


def _three_figures(value: float) -> str:
    return _fixed(value, 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2)


def _fixed(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    return marked(text.replace("-", "−") if float(text) != 0 else text.lstrip("-"))


def signed(value: float, digits: int) -> str:
    """A difference with its sign; a plain 0 where nothing is left after rounding."""
    text = f"{value:+.{digits}f}"
    return marked(text.replace("-", "−") if float(text) != 0 else text[1:])


def with_unit(text: str, unit: str) -> str:
    """Number and unit, a narrow no-break space between."""
    return f"{text}\u202f{unit}" if unit else text


def cut(text: str, most: int) -> str:
    """The text, shortened with an ellipsis if it has more than `most` characters."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
