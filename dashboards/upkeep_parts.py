"""At which part of a line a finding lands for maintenance; None where no part of the machine is meant.

Placed by family and channel, so that a condition added later lands by itself; a name is only listed here where its
family says less than its name.
"""

from __future__ import annotations

from dashboards.upkeep_item import Kind
from ingest.roles import split_key
from monitor import pressure_path
from monitor.contract import Context
from monitor.line import Line
from monitor.records import Finding, Record

Part = tuple[Kind, str]
"""Kind and subject; '' for what a line has once."""

COOLING = frozenset({"cooling_scaled", "cooling_passing", "steam_flash"})
ONCE: dict[str, Part] = {
    "gearbox": ("gearbox", ""),
    "melt_pump_starved": ("pump", ""),
    "melt_pump_worn": ("pump", ""),
    "throat_warm": ("cooling", "throat"),
}
NOT_A_PART = frozenset(
    {
        "viscous_lot", "moisture", "strand_break", "feeders_screw_stopped", "screw_turning_empty", "freeze_off",
        "surging", "hopper_running_empty", "throat_hopper_emptying", "start_order",
    }
)  # fmt: skip
"""Matters of material and operation inside families that are otherwise about parts."""

LOADS = frozenset({"torque", "motor_current", "drive_power", "net_torque", "shaft_power", "sme", "specific_throughput"})
MELT_PRESSURES: dict[str, Kind] = {"before_screen": "screen", "after_screen": "die", "pump_discharge": "die"}


def part_of(line: Line, record: Record) -> Part | None:
    """Kind and subject of the part a record is about."""
    role, at = split_key(record.channel)
    if record.condition in NOT_A_PART:
        return None
    if record.condition in ONCE:
        return ONCE[record.condition]
    if record.condition in COOLING or role == "cooling_water_temperature":
        return ("cooling", at)
    match record.family:
        case "heater":
            return ("zone", at)
        case "sensor":
            return ("couple", at) if role.startswith("zone_") else ("sensor", at)
        case "feeder":
            return ("feeder", at)
        case "vacuum":
            return ("vent", at)
        case "data":
            return ("link", record.channel)
        case "drive":
            return ("drive", "")
        case "pressure" | "drift" | "over_temperature" | "under_temperature":
            return _by_channel(line, role, at)
        case _:
            return None


def path_part(line: Line, subject: str) -> Part:
    """The part of the melt path a pressure tells of: the screen, the die, or just that place."""
    if not any(s.role == "melt_pressure" and s.at == subject for s in line.sensor):
        return ("pressure", subject)
    where = pressure_path.place(subject, _context(line))
    return (MELT_PRESSURES.get(where, "pressure"), one_pressure(line, subject)[0])


def one_pressure(line: Line, subject: str) -> tuple[str, ...]:
    """All sensors at its place in the stream, as the line file names them: they tell of one screen or die."""
    groups = pressure_path.groups(_context(line), known_unit=False).values()
    return next((members for members in groups if subject in members), (subject,))


def screen_alone(line: Line) -> bool:
    """Whether a pressure behind the screen tells the screen from the die."""
    return bool(pressure_path.groups(_context(line), "after_screen", "pump_suction", known_unit=False))


def apart(findings: tuple[Finding, ...] | list[Finding]) -> tuple[list[Finding], dict[str, tuple[Finding, ...]]]:
    """Findings that stand for themselves, and by finding those it explains.

    What another finding here explains is no item of its own, unless it is priority 1.
    """
    here = {f.last.finding for f in findings}
    tops = [f for f in findings if f.last.part_of not in here or f.last.priority == 1]
    folded: dict[str, tuple[Finding, ...]] = {}
    for f in findings:
        if f.last.part_of in here and f.last.priority > 1:
            folded[f.last.part_of] = (*folded.get(f.last.part_of, ()), f)
    return tops, folded


def _by_channel(line: Line, role: str, at: str) -> Part | None:
    if role == "melt_pressure":
        return path_part(line, at)
    if role.startswith("zone_"):
        return ("zone", at)
    return ("drive", "") if role in LOADS else None


def _context(line: Line) -> Context:
    return Context(line=line, recipe=None, material=None, step_s=line.line.cadence_s)
