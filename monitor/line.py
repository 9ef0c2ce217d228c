"""The line file: one extruder with its zones, feeders, vents, limits and the tags of its log."""

from __future__ import annotations

import difflib
import zoneinfo
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from ingest.mapping import ChannelSource, LogMapping
from ingest.roles import RELATIVE, ROLES, Role, channel_key, split_key
from ingest.units import STANDARD_ATMOSPHERE_MBAR, UnitError, quantity_of, to_unit
from monitor.full_amounts import full_is_missing, full_reading, is_amount
from monitor.settings_file import Table, parts, read_toml, twice, validate, word

Name = Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[^:\s][^:\n]*$")]
Positive = Annotated[float, Field(gt=0)]
ShiftStart = Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]
Percent = Annotated[float, Field(ge=0, le=100)]


class LineTable(Table):
    """[line]

    name: letters, digits, blanks; no colon. feed: None = starved for a twin-screw, flooded for a single-screw.
    time_zone: IANA name, of stamps without an offset and of all times shown. cadence_s: usual step between stamps, s.
    shift_starts: when shifts change, 'HH:MM' on the plant's clock: from then 'What changed since' is told, and until
    then a finding can be set aside.
    """

    name: Name
    title: str = ""
    kind: Literal["twin-screw", "single-screw"]
    feed: Literal["starved", "flooded"] | None = None
    time_zone: str = "UTC"
    cadence_s: Annotated[float, Field(ge=0.1, le=60)] = 1.0
    atmosphere_mbar: Annotated[float, Field(ge=500, le=1100)] = STANDARD_ATMOSPHERE_MBAR
    shift_starts: Annotated[tuple[ShiftStart, ...], Field(min_length=1)] = ("06:00", "14:00", "22:00")

    @model_validator(mode="after")
    def _zone_exists(self) -> LineTable:
        try:
            zoneinfo.ZoneInfo(self.time_zone)
        except (KeyError, ValueError, OSError):
            near = difflib.get_close_matches(self.time_zone, zoneinfo.available_timezones(), n=1)
            hint = f", did you mean '{near[0]}'?" if near else "; use a name like 'Europe/Madrid'"
            raise ValueError(f"time_zone '{self.time_zone}' is not an IANA time zone{hint}") from None
        return self


class Geometry(Table):
    """[geometry] Only what is stated is used; what is missing disarms what needs it, and that is said."""

    screw_diameter_mm: Positive | None = None
    length_over_diameter: Positive | None = None
    diameter_ratio: Annotated[float, Field(gt=1, lt=2.414)] | None = None
    lead_mm: Positive | None = None
    mean_fill: Annotated[float, Field(gt=0, le=1)] = 0.4
    channel_depth_mm: Positive | None = None
    helix_angle_deg: Annotated[float, Field(gt=0, lt=90)] = 17.66
    metering_length_mm: Positive | None = None
    downstream_volume_l: Annotated[float, Field(ge=0)] = 0.0


class Drive(Table):
    """[drive]

    rated_torque_nm: of all screws together, or of the shaft at which the torque is logged; where it is not given it
    follows from rated power and speed.
    """

    rated_power_kw: Positive | None = None
    rated_speed_rpm: Positive | None = None
    rated_torque_nm: Positive | None = None
    efficiency: Annotated[float, Field(gt=0, le=1)] = 0.97
    no_load_torque_pct: Percent = 8.0
    torque_limit_pct: Annotated[float, Field(gt=0, le=200)] = 100.0
    rated_current_a: Positive | None = None
    magnetising_current_a: Annotated[float, Field(ge=0)] | None = None


class Limits(Table):
    """[limits] The machine's own limits, from its maker's manual."""

    melt_pressure_bar: Positive | None = None
    screw_speed_rpm: Positive | None = None


class Zone(Table):
    """[[zone]] in machine order, throat to die."""

    name: Name
    kind: Literal["feed", "barrel", "adapter", "screen", "die"] = "barrel"
    element: Literal["conveying", "kneading", "reverse", "mixing", "compression", "metering", "none"] = "conveying"
    output_limit_pct: Annotated[float, Field(gt=0, le=100)] = 100.0
    cooled: bool = True
    electrical_phase: str = ""

    @property
    def beyond_the_screw(self) -> bool:
        """Without a screw in it: no shear heat, and its wall makes the pressure of what passes. A melt pump or pipe is
        an adapter."""
        return self.kind in ("adapter", "screen", "die")


class Feeder(Table):
    """[[feeder]]"""

    name: Name
    title: str = ""
    material: str = ""
    kind: Literal["loss-in-weight", "volumetric", "liquid", "hopper"] = "loss-in-weight"
    at: str = ""
    side: bool = False
    hopper_kg: Positive | None = None
    refill_below_kg: Positive | None = None
    drive_limit_pct: Annotated[float, Field(gt=0, le=100)] = 100.0
    effect_on_torque: Literal["raises", "lowers", "none"] = "raises"


class Vent(Table):
    """[[vent]]"""

    name: Name
    at: str = ""
    vacuum: bool = True
    gauge: Literal["dome", "pump"] = "dome"


class Log(Table):
    """[log] How the plant writes its log."""

    layout: Literal["wide", "long"] = "wide"
    time_columns: tuple[str, ...] = ()
    time_format: str = ""
    line_column: str = ""
    line_value: str = ""
    tag_column: str = ""
    value_column: str = ""
    quality_column: str = ""
    lot_column: str = ""
    recipe_column: str = ""
    quality_suffix: str = ""
    missing_values: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _long_needs_columns(self) -> Log:
        if self.layout == "long" and not (self.tag_column and self.value_column):
            raise ValueError("layout 'long' needs tag_column and value_column")
        return self


class Sensor(Table):
    """[[sensor]] One plant tag and the role it plays.

    range: least and greatest reading it can show, in the sensor's own unit.
    position: where a melt pressure stands in the stream; '' = in the zone it is `at`, else ahead of screen and die.
    full: reading that is 100 %, in the sensor's own unit, where a role in percent is logged as an amount: a torque in
    N m, a hopper in kg, a load in A.
    """

    tag: Annotated[str, Field(min_length=1)]
    role: str
    at: str = ""
    unit: str = ""
    range: tuple[float, float] | None = None
    hold_s: Positive | None = None
    position: Literal["", "barrel", "vent", "before_screen", "after_screen", "pump_suction", "pump_discharge"] = ""
    zero_is_missing: bool = False
    full: Positive | None = None

    @property
    def key(self) -> str:
        """Channel key."""
        return channel_key(self.role, self.at)

    @model_validator(mode="after")
    def _role_and_unit_fit(self) -> Sensor:
        if self.role not in ROLES:
            near = difflib.get_close_matches(self.role, ROLES, n=1)
            hint = f", did you mean '{near[0]}'?" if near else f"; allowed: {', '.join(ROLES)}"
            raise ValueError(f"tag '{self.tag}': no role '{self.role}'{hint}")
        role = ROLES[self.role]
        if role.per == "line" and self.at:
            raise ValueError(f"tag '{self.tag}': role '{self.role}' belongs to the whole line, leave `at` out")
        if role.per != "line" and not self.at:
            raise ValueError(f"tag '{self.tag}': role '{self.role}' needs `at`, the name of its {role.per}")
        problems = []
        problems += self._unit_problems(role)
        if self.range is not None and not self.range[0] < self.range[1]:
            problems.append(f"tag '{self.tag}': range {list(self.range)} must rise")
        if problems:
            raise ValueError("; ".join(problems))
        return self

    def _unit_problems(self, role: Role) -> list[str]:
        if self.full is not None and (role.unit != "%" or self.unit in ("", RELATIVE, "%")):
            return [
                f"tag '{self.tag}': full = {self.full:g} is the reading that is 100 %, for a role in % in another unit"
            ]
        if not self.unit or self.unit == RELATIVE:
            return []
        try:
            if self.full is not None:
                quantity_of(self.unit)
            elif not is_amount(self.role, self.unit):
                to_unit(self.unit, role.unit)
        except UnitError as error:
            amount = "; or give full, the reading that is 100 %" if role.unit == "%" else ""
            return [f"tag '{self.tag}': {error}{amount}"]
        return []


class Line(Table):
    """A whole line file. `version` names its content."""

    format: Literal[1]
    line: LineTable
    geometry: Geometry = Geometry()
    drive: Drive = Drive()
    limits: Limits = Limits()
    log: Log = Log()
    zone: tuple[Zone, ...] = ()
    feeder: tuple[Feeder, ...] = ()
    vent: tuple[Vent, ...] = ()
    sensor: Annotated[tuple[Sensor, ...], Field(min_length=1)]
    settings: dict[str, dict[str, float | bool | str]] = {}
    version: str = ""

    @property
    def name(self) -> str:
        """Name of the line, as findings carry it."""
        return self.line.name

    @property
    def channels(self) -> tuple[str, ...]:
        """Channel keys in the order of the line file."""
        return tuple(sensor.key for sensor in self.sensor)

    @property
    def zone_names(self) -> tuple[str, ...]:
        """Zones in machine order."""
        # Asked for by every finding of all others; a copy of the line with other zones must not keep those of this one.
        known = vars(self).get("_zone_names")
        if known is None or known[0] is not self.zone:
            known = vars(self)["_zone_names"] = (self.zone, tuple(zone.name for zone in self.zone))
        return known[1]

    @property
    def flood_fed(self) -> bool:
        """Whether the screw sets the rate by the line file alone: its word, else what is usual for the kind."""
        said = self.line.feed
        return said == "flooded" if said else self.line.kind == "single-screw"

    @property
    def relative_channels(self) -> frozenset[str]:
        """Channels whose real unit is not known."""
        # Asked for in every tick; a copy of the line with other sensors must not keep those of this one.
        known = vars(self).get("_relative")
        if known is None or known[0] is not self.sensor:
            found = frozenset(sensor.key for sensor in self.sensor if sensor.unit == RELATIVE)
            known = vars(self)["_relative"] = (self.sensor, found)
        return known[1]

    def any_relative(self, *roles: str) -> bool:
        """Whether the real unit of any channel of these roles is not known."""
        return any(split_key(key)[0] in roles for key in self.relative_channels)

    def _full_of(self, sensor: Sensor) -> float | None:
        if not is_amount(sensor.role, sensor.unit):
            return None
        feeders = [feeder.model_dump() for feeder in self.feeder]
        return full_reading(sensor.role, sensor.unit, self.drive.model_dump(), feeders)

    def feeder_named(self, name: str) -> Feeder:
        """The feeder of that name."""
        return next(feeder for feeder in self.feeder if feeder.name == name)

    def zone_named(self, name: str) -> Zone:
        """The zone of that name."""
        return next(zone for zone in self.zone if zone.name == name)

    def with_holds(self, mapping: LogMapping) -> Line:
        """The line as a log turned out to be written: how long its readings stand, where the file does not say.

        It keeps its version: the file is the same.
        """
        holds = {one.tag: one.hold_s for one in mapping.channels}
        sensors = tuple(
            sensor.model_copy(update={"hold_s": holds[sensor.tag]})
            if sensor.hold_s is None and holds.get(sensor.tag, 0.0) > ROLES[sensor.role].hold_s
            else sensor
            for sensor in self.sensor
        )
        return self.model_copy(update={"sensor": sensors})

    def mapping(self) -> LogMapping:
        """What a reader must know of this line."""
        return LogMapping(
            line=self.line.name,
            cadence_s=self.line.cadence_s,
            time_zone=self.line.time_zone,
            channels=tuple(
                ChannelSource(
                    tag=sensor.tag,
                    key=sensor.key,
                    unit=sensor.unit or ROLES[sensor.role].unit,
                    cell=ROLES[sensor.role].cell,
                    hold_s=sensor.hold_s or ROLES[sensor.role].hold_s,
                    low=sensor.range[0] if sensor.range else None,
                    high=sensor.range[1] if sensor.range else None,
                    full=sensor.full or self._full_of(sensor),
                )
                for sensor in self.sensor
            ),
            time_columns=self.log.time_columns,
            time_format=self.log.time_format,
            line_column=self.log.line_column,
            line_value=self.log.line_value,
            layout=self.log.layout,
            tag_column=self.log.tag_column,
            value_column=self.log.value_column,
            quality_column=self.log.quality_column,
            lot_column=self.log.lot_column,
            recipe_column=self.log.recipe_column,
            missing_values=self.log.missing_values,
            zero_is_missing=tuple(sensor.tag for sensor in self.sensor if sensor.zero_is_missing),
            quality_suffix=self.log.quality_suffix,
            atmosphere_mbar=self.line.atmosphere_mbar,
        )

    @classmethod
    def misfits(cls, data: Mapping[str, Any]) -> list[str]:
        """Names that are there twice, and places that are not on this line."""
        problems: list[str] = []
        names = {kind: [word(part, "name") for part in parts(data, kind)] for kind in ("zone", "feeder", "vent")}
        played = [part for part in parts(data, "sensor") if word(part, "role")]
        keys = [channel_key(word(part, "role"), word(part, "at")) for part in played]
        for kind, found in (*names.items(), ("sensor", keys)):
            problems += [f"{kind} '{name}' is there twice" for name in twice(found)]
        for part in played:
            role = ROLES.get(word(part, "role"))
            if role is not None and role.per in names and word(part, "at") not in ("", *names[role.per]):
                known = ", ".join(sorted(names[role.per])) or "none"
                place = f"sensor '{word(part, 'tag')}': at = '{word(part, 'at')}'"
                problems.append(f"{place} is no {role.per} of this line ({known})")
        drive = data.get("drive")
        for part in played:
            if part.get("full") is None:
                table = drive if isinstance(drive, dict) else {}
                said = full_is_missing(word(part, "role"), word(part, "unit"), table, parts(data, "feeder"))
                problems += [f"tag '{word(part, 'tag')}': {said}"] if said else []
        for kind in ("feeder", "vent"):
            for part in parts(data, kind):
                if word(part, "at") not in ("", *names["zone"]):
                    known = ", ".join(names["zone"]) or "none"
                    place = f"{kind} '{word(part, 'name')}': at = '{word(part, 'at')}'"
                    problems.append(f"{place} is no zone of this line ({known})")
        return problems

    @model_validator(mode="after")
    def _parts_fit(self) -> Line:
        problems = self.misfits(self.model_dump())
        if problems:
            raise ValueError("; ".join(problems))
        return self


def read_line(path: Path) -> Line:
    """The line file at `path`; raises SettingsError with every mistake in it."""
    data, version = read_toml(path)
    return validate(Line, {**data, "version": version}, path)
