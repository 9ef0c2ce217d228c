"""Writes line and recipe dicts as commented TOML."""

from __future__ import annotations

from typing import Any

COMMENTS: dict[str, str] = {
    "line": "The machine and how its log ticks.",
    "geometry": "From the screw drawing. What is left out is not used.",
    "drive": "From the nameplate.",
    "limits": "The machine's own limits, from its manual.",
    "log": "How the plant writes its log.",
    "zone": "Zones in machine order, throat to die.",
    "feeder": "Feeders and where they enter.",
    "vent": "Vents and where they stand.",
    "sensor": "Every tag of the log and the role it plays.",
    "recipe": "What the product needs. Invented material.",
    "zones": "Wanted temperature of each zone, C.",
    "shares": "Percent of each feeder, by mass.",
    "window": "Inner limits bound good product, outer limits ask for action now.",
}


def toml_text(content: dict[str, Any], title: str) -> str:
    """The whole file: scalars, tables of scalars, arrays of flat tables (the sensors one a line)."""
    lines = [f"# {title}", ""]
    lines += [f"{key} = {_value(value)}" for key, value in content.items() if not isinstance(value, (dict, list))]
    for key, value in content.items():
        if isinstance(value, dict):
            lines += ["", *_comment(key), f"[{key}]", *_pairs(value)]
    for key, value in content.items():
        if isinstance(value, list) and key == "sensor":
            lines += ["", *_comment(key), "sensor = [", *(f"  {_inline(item)}," for item in value), "]"]
            continue
        if isinstance(value, list):
            lines += ["", *_comment(key)]
            for item in value:
                lines += [f"[[{key}]]", *_pairs(item), ""]
            lines.pop()
    return "\n".join(_sensors_first(lines)) + "\n"


def _sensors_first(lines: list[str]) -> list[str]:
    """A plain array must stand above the first table: moves the sensor array up behind the scalars."""
    if "sensor = [" not in lines:
        return lines
    start = lines.index("sensor = [") - 1
    end = lines.index("]", start) + 1
    block = lines[start:end]
    rest = lines[: start - 1] + lines[end:]
    first_table = next(i for i, text in enumerate(rest) if text.startswith("[")) - 1
    return [*rest[:first_table], *block, "", *rest[first_table:]]


def _comment(key: str) -> list[str]:
    return [f"# {COMMENTS[key]}"] if key in COMMENTS else []


def _pairs(table: dict[str, Any]) -> list[str]:
    return [f"{_key(key)} = {_value(value)}" for key, value in table.items()]


def _inline(table: dict[str, Any]) -> str:
    return "{ " + ", ".join(_pairs(table)) + " }"


def _key(key: str) -> str:
    return key if key.replace("_", "").replace("-", "").isalnum() and key.isascii() else f'"{key}"'


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    if isinstance(value, float):
        return repr(round(value, 6)) if value != int(value) or abs(value) >= 1e15 else f"{int(value)}.0"
    return str(value)
