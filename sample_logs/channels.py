"""Which channels a plant's log holds, and where the simulator finds each."""

from __future__ import annotations

from ingest.roles import channel_key

PLAIN_ZONE = ("zone_temperature", "zone_setpoint", "zone_output")
TWIN_LINE = ("screw_speed", "screw_speed_setpoint", "torque", "motor_current", "drive_power")
TWIN_END = ("line_rate_setpoint", "throat_temperature", "gearbox_oil_temperature", "ambient_temperature")
SINGLE_END = ("hopper_level", "throat_temperature", "gearbox_oil_temperature", "ambient_temperature")
SINGLE_SURROUNDINGS = (
    "haul_off_load", "haul_off_speed", "packed_total", "scrap_total", "gearbox_oil_pressure", "gearbox_filter_drop",
    "cooling_water_temperature", "mains_voltage",
)  # fmt: skip
TWIN_SURROUNDINGS = (*SINGLE_SURROUNDINGS, "cutter_speed", "bath_temperature", "diverter_to_product", "dew_point")
PRESSURES, MELT = ("P1", "P2"), ("M1",)


def twin_channels(
    zones: tuple[str, ...], feeders: tuple[str, ...], side: str, plain: bool, vent: str
) -> tuple[str, ...]:
    """Channel keys of a twin-screw line in the order of its log. side: name of the side feeder, '' if none."""
    keys = [channel_key(role, zone) for zone in zones for role in PLAIN_ZONE + (() if plain else ("zone_current",))]
    keys += ["screw_speed", "torque"] if plain else list(TWIN_LINE)
    keys += [channel_key("melt_pressure", at) for at in (PRESSURES[:1] if plain else PRESSURES)]
    keys.append(channel_key("melt_temperature", "M1"))
    roles = ("feeder_rate", "feeder_setpoint")
    roles += () if plain else ("feeder_drive", "feeder_weight", "feeder_refill", "feeder_gravimetric")
    keys += [channel_key(role, feeder) for feeder in feeders for role in roles]
    if not plain:
        keys += [channel_key("stuffer_load", side)] if side else []
        keys += [channel_key("vacuum", vent), *TWIN_END]
    return tuple(keys)


def single_channels(zones: tuple[str, ...], plain: bool, measured: bool) -> tuple[str, ...]:
    """Channel keys of a single-screw line. measured: its hopper is on load cells and gives the line's rate."""
    keys = [channel_key(role, zone) for zone in zones for role in PLAIN_ZONE + (() if plain else ("zone_current",))]
    keys += ["screw_speed", "torque"] if plain else list(TWIN_LINE)
    keys += [channel_key("melt_pressure", at) for at in (PRESSURES[:1] if plain else PRESSURES)]
    keys.append(channel_key("melt_temperature", "M1"))
    keys += ["line_rate"] if measured else []
    keys += ["hopper_level"] if plain else list(SINGLE_END)
    return tuple(keys)


def rich_channels(
    channels: tuple[str, ...], zones: tuple[str, ...], feeders: tuple[str, ...], liquid: str, barrel: tuple[str, ...]
) -> tuple[str, ...]:
    """Everything a well-instrumented line logs. channels: all of its core's; liquid: its liquid feeder, '' if none;
    barrel: zones with a melt pressure of their own."""
    keys = [*channels, *(channel_key("melt_pressure", zone) for zone in barrel)]
    keys += [channel_key(role, zone) for zone in zones for role in ("zone_cooling", "zone_auto")]
    keys += [channel_key("feeder_running", feeder) for feeder in feeders]
    keys += [channel_key("injection_pressure", liquid)] if liquid else []
    keys += [channel_key("vacuum_setpoint", "V1")] if feeders else []
    return tuple(dict.fromkeys([*keys, *(TWIN_SURROUNDINGS if feeders else SINGLE_SURROUNDINGS)]))


def place(key: str, zones: tuple[str, ...], slots: dict[str, int]) -> tuple[str, int]:
    """Name of the reading and index in it of a channel key. slots: feeder name -> slot."""
    role, _, subject = key.partition(":")
    if role.startswith("zone_"):
        return role, zones.index(subject)
    if role.startswith("feeder_"):
        return role, slots[subject]
    if role == "melt_pressure" and subject in zones:
        return "barrel_pressure", zones.index(subject)
    if role in ("injection_pressure",):
        return role, slots[subject]
    if role == "melt_pressure":
        return role, PRESSURES.index(subject)
    return role, 0
