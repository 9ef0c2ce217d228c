"""Where everything stands along the machine, throat to die, as fractions of its drawn length."""

from __future__ import annotations

from dataclasses import dataclass

from ingest.roles import ROLES, channel_key, split_key
from monitor.line import Line

_END_PIECES = ("adapter", "screen", "die")


@dataclass(frozen=True)
class PlacedZone:
    """One zone and the stretch [x0, x1] it covers, 0 at the throat and 1 at the die face."""

    name: str
    kind: str
    element: str
    cooled: bool
    x0: float
    x1: float

    @property
    def middle(self) -> float:
        """Middle of the stretch."""
        return (self.x0 + self.x1) / 2


@dataclass(frozen=True)
class Machine:
    """The line as drawn.

    feeders, vents, sensors: name -> place. diameters: barrel length over screw diameter, None if not stated.
    barrel_end: where the last barrel zone ends.
    """

    zones: tuple[PlacedZone, ...]
    feeders: dict[str, float]
    vents: dict[str, float]
    sensors: dict[str, float]
    diameters: float | None
    barrel_end: float

    def place(self, key: str) -> float | None:
        """Place of a channel along the machine; None for what belongs to the line as a whole."""
        role, subject = split_key(key)
        if role not in ROLES:
            return self.feeders.get(subject) if role == "share" else None
        per = ROLES[role].per
        if per == "zone":
            return next((zone.middle for zone in self.zones if zone.name == subject), None)
        places = {"feeder": self.feeders, "vent": self.vents, "sensor": self.sensors}.get(per, {})
        return places.get(subject)


def place_machine(line: Line) -> Machine:
    """Barrel zones share the barrel's length equally; adapter, screen and die follow at a zone's width each.

    The line file states no length for single zones, so equal barrels are the assumption.
    """
    zones = line.zone
    count = max(len(zones), 1)
    placed = tuple(
        PlacedZone(z.name, z.kind, z.element, z.cooled, i / count, (i + 1) / count) for i, z in enumerate(zones)
    )
    barrels = [zone for zone in placed if zone.kind not in _END_PIECES]
    barrel_end = barrels[-1].x1 if barrels else 1.0
    at = {zone.name: zone for zone in placed}
    throat = placed[0].middle if placed else 0.05
    feeders = {f.name: at[f.at].middle if f.at in at else throat for f in line.feeder}
    vents = {v.name: at[v.at].middle if v.at in at else barrel_end for v in line.vent}
    return Machine(
        placed,
        feeders,
        vents,
        _sensor_places(line, placed, barrel_end),
        line.geometry.length_over_diameter,
        barrel_end,
    )


def _sensor_places(line: Line, zones: tuple[PlacedZone, ...], barrel_end: float) -> dict[str, float]:
    """Sensors named after a zone stand there.

    The rest, in the order of the line file, between barrel and die face.
    """
    at = {zone.name: zone.middle for zone in zones}
    known: dict[str, float] = {}
    loose: list[str] = []
    for sensor in line.sensor:
        if ROLES[sensor.role].per != "sensor" or sensor.at in known or sensor.at in loose:
            continue
        near = next((z for z in zones if _same_place(sensor.at, z)), None)
        if sensor.at in at:
            known[sensor.at] = at[sensor.at]
        elif near is not None:
            known[sensor.at] = near.x0 if "before" in sensor.at.lower() else near.middle
        else:
            loose.append(sensor.at)
    room = 1 - barrel_end if barrel_end < 1 else 0.04
    start = barrel_end if barrel_end < 1 else 0.96
    for i, name in enumerate(loose):
        known[name] = start + room * (i + 0.5) / len(loose)
    return known


def _same_place(sensor: str, zone: PlacedZone) -> bool:
    """Whether a sensor's name says it sits at the zone ('die' at the die, 'before screen' at the screen)."""
    words = sensor.lower().replace("_", " ").replace("-", " ").split()
    return zone.kind in _END_PIECES and (zone.kind in words or zone.name.lower() in words)


def machine_order(line: Line, keys: tuple[str, ...] | list[str]) -> list[str]:
    """The keys as one meets them walking from the drive past throat and barrel to the die."""
    machine = place_machine(line)
    roles = list(ROLES)
    listed = {key: i for i, key in enumerate(line.channels)}

    def rank(key: str) -> tuple[float, int, int, str]:
        role, _ = split_key(key)
        place = machine.place(key)
        if place is None:
            drive = role in (
                "screw_speed",
                "torque",
                "motor_current",
                "drive_power",
                "hopper_level",
                "throat_temperature",
            )
            place = -1.0 if drive else 2.0
        order = {"feeder": 0, "vent": 1, "zone": 2, "sensor": 3}.get(ROLES[role].per if role in ROLES else "", 4)
        return (place, order, listed.get(key, roles.index(role) if role in roles else 999), key)

    return sorted(dict.fromkeys(keys), key=rank)


def subject_title(line: Line, key: str) -> str:
    """What people call the subject of a channel: a feeder's title, a zone's name, '' for the line."""
    _, subject = split_key(key)
    feeder = next((f for f in line.feeder if f.name == subject), None)
    if feeder is not None:
        return feeder.title or " ".join(part for part in (feeder.material, feeder.name) if part)
    return subject


def setpoint_key(key: str) -> str:
    """The channel that carries the set-point of another, '' if its role has none."""
    role, subject = split_key(key)
    wanted = {
        "zone_temperature": "zone_setpoint",
        "feeder_rate": "feeder_setpoint",
        "screw_speed": "screw_speed_setpoint",
        "line_rate": "line_rate_setpoint",
    }.get(role, "")
    return channel_key(wanted, subject) if wanted else ""


def mass_known(line: Line) -> bool:
    """Whether kilograms can be told: some rate is logged, and every rate in a unit that is known."""
    rates = [key for key in line.channels if split_key(key)[0] in ("feeder_rate", "line_rate")]
    return bool(rates) and not any(key in line.relative_channels for key in rates)


def feeds_known(line: Line) -> bool:
    """Whether the rate of every feeder is logged, so that their sum is all that is fed; True where none is."""
    rates = [channel_key("feeder_rate", feeder.name) in line.channels for feeder in line.feeder]
    return all(rates) or not any(rates)
