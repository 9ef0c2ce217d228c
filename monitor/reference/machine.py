"""What of a line file a reference depends on, and why a reference is no longer valid on another machine."""

from __future__ import annotations

from collections.abc import Mapping

from ingest.roles import ROLES, split_key
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.reference.model import Reference

WHOLE = ("geometry", "line.kind", "line.feed")
"""Another screw or barrel is another machine: nothing of the reference holds."""


def machine_of(line: Line) -> dict[str, str | float]:
    """Entries of the line file that change what is normal, by dotted name."""
    out: dict[str, str | float] = {"line.kind": line.line.kind, "line.feed": line.line.feed or ""}
    for name, table in (("geometry", line.geometry), ("drive", line.drive)):
        out |= {f"{name}.{key}": _plain(value) for key, value in table.model_dump().items() if value is not None}
    for zone in line.zone:
        out[f"zone.{zone.name}.output_limit_pct"] = zone.output_limit_pct
        out[f"zone.{zone.name}.element"] = zone.element
    for feeder in line.feeder:
        out[f"feeder.{feeder.name}.drive_limit_pct"] = feeder.drive_limit_pct
        out[f"feeder.{feeder.name}.material"] = feeder.material
    for sensor in line.sensor:
        unit = sensor.unit or ROLES[sensor.role].unit
        span = f"{sensor.range[0]:g} to {sensor.range[1]:g} " if sensor.range else ""
        out[f"sensor.{sensor.key}"] = f"{span}{unit}"
    return out


def _plain(value: object) -> str | float:
    return float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else str(value)


def no_longer_valid(reference: Reference, line: Line, recipe: Recipe | None) -> dict[str, str]:
    """Why it does not hold on this line, by quantity; '' names all of them. Empty where it holds throughout."""
    if reference.line != line.name:
        return {"": f"it is of line '{reference.line}', not of '{line.name}'"}
    if recipe is not None and reference.recipe != recipe.name:
        return {"": f"it is of recipe '{reference.recipe}', not of '{recipe.name}'"}
    now, out = machine_of(line), {}
    for key in sorted({*reference.machine, *now}):
        before, after = reference.machine.get(key), now.get(key)
        if before == after:
            continue
        reason = f"{key} was {_shown(before)} when it was learned and is {_shown(after)} now"
        for name in _touched(key, reference):
            out.setdefault(name, reason)
    return {"": out[""]} if "" in out else out


def _shown(value: str | float | None) -> str:
    return "not given" if value is None else f"{value:g}" if isinstance(value, float) else f"'{value}'"


def _touched(key: str, reference: Reference) -> tuple[str, ...]:
    """Quantities that a changed entry touches; '' = all."""
    names = tuple(normal.name for normal in reference.normals)
    table, _, rest = key.partition(".")
    if key.startswith(WHOLE):
        return ("",)
    if table == "drive":
        return tuple(name for name in names if name in ("net_torque", "sme"))
    part = rest.partition(".")[0] if table in ("zone", "feeder") else ""
    if table == "zone" and key.endswith("element"):
        return ("",)
    if table in ("zone", "feeder"):
        return tuple(name for name in names if split_key(name)[1] == part)
    return _of_sensor(rest, names)


def _of_sensor(channel: str, names: tuple[str, ...]) -> tuple[str, ...]:
    role, at = split_key(channel)
    if role in ("torque", "motor_current", "drive_power"):
        return tuple(name for name in names if name in ("net_torque", "sme"))
    made = {"zone_temperature": f"zone_deviation:{at}", "feeder_rate": f"feed_factor:{at}"}
    touched = {channel, made.get(role, channel)}
    if role == "feeder_drive":
        touched.add(f"feed_factor:{at}")
    return tuple(name for name in names if name in touched)


def said_of(reasons: Mapping[str, str]) -> list[str]:
    """The reasons as sentences, each once."""
    sentences: dict[str, list[str]] = {}
    for name, reason in reasons.items():
        sentences.setdefault(reason, []).append(name)
    return [
        f"The reference is no longer valid{'' if '' in names else ' for ' + ', '.join(names)}: {reason}."
        for reason, names in sentences.items()
    ]
