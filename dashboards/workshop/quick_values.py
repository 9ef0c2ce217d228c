"""Common values of a line or recipe file, read from its text and written back into it; all else stays as it stands."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping

LINE_VALUES = (
    ("line", "name"), ("line", "time_zone"), ("line", "cadence_s"), ("geometry", "screw_diameter_mm"),
    ("geometry", "length_over_diameter"), ("drive", "rated_power_kw"), ("drive", "rated_speed_rpm"),
    ("limits", "melt_pressure_bar"),
)  # fmt: skip
RECIPE_VALUES = (
    ("recipe", "name"), ("recipe", "product"), ("recipe", "rate_kg_h"), ("recipe", "screw_speed_rpm"),
    ("recipe", "melting_point_c"), ("recipe", "glass_transition_c"), ("recipe", "ceiling_c"),
    ("recipe", "hot_hold_min"),
)  # fmt: skip
TEXTS = frozenset({"name", "time_zone", "product"})
"""Keys that hold texts; the others hold numbers."""


def values_of(text: str, kind: str) -> dict[tuple[str, str], str]:
    """What stands there now, '' where nothing does; no values at all where the text is no TOML."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return {}
    found = {}
    for table, key in LINE_VALUES if kind == "line" else RECIPE_VALUES:
        inside = data.get(table)
        value = inside.get(key, "") if isinstance(inside, dict) else ""
        found[table, key] = str(value)
    return found


def with_values(text: str, values: Mapping[tuple[str, str], str]) -> str:
    """The text with values put in. What is no number stays as it was typed, for the loader to speak of."""
    kind = "recipe" if any(table == "recipe" for table, _ in values) else "line"
    before = values_of(text, kind)
    for (table, key), typed in values.items():
        if typed.strip() != before.get((table, key), ""):
            text = _with(text, table, key, _written(key, typed.strip()))
    return text


def _written(key: str, typed: str) -> str:
    if not typed:
        return ""
    if key in TEXTS:
        return json.dumps(typed, ensure_ascii=False)
    number = typed.replace(",", ".")
    return number if re.fullmatch(r"[+-]?\d+(\.\d+)?", number) else json.dumps(typed, ensure_ascii=False)


def _with(text: str, table: str, key: str, value: str) -> str:
    """The text with one key set, or taken out where value is ''."""
    lines = text.split("\n")
    start = next((i for i, line in enumerate(lines) if re.match(rf"\s*\[\s*{table}\s*\]", line)), None)
    if start is None:
        if not value:
            return text
        first = next((i for i, line in enumerate(lines) if re.match(r"\s*\[\[", line)), len(lines))
        return "\n".join([*lines[:first], f"[{table}]", f"{key} = {value}", "", *lines[first:]])
    end = next((i for i in range(start + 1, len(lines)) if re.match(r"\s*\[", lines[i])), len(lines))
    at = next((i for i in range(start + 1, end) if re.match(rf"\s*{key}\s*=", lines[i])), None)
    if at is None:
        return "\n".join([*lines[: start + 1], f"{key} = {value}", *lines[start + 1 :]]) if value else text
    if not value:
        return "\n".join([*lines[:at], *lines[at + 1 :]])
    return "\n".join([*lines[:at], f"{key} = {value}", *lines[at + 1 :]])
