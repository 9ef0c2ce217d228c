"""The catalogue of faults the invented plant can have: what each is called, what its severity means, what moves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

On = Literal["feeder", "zone", "line"]


@dataclass(frozen=True)
class FaultKind:
    """One kind of fault.

    name: key. family: group of the catalogue. words: what an engineer would call it. on: what its subject is.
    lines: kinds of line that can have it. severity: what the number means. low, high: range drawn from.
    moves: what physically moves, in order. ramp_s: time it takes to come on; 0 = at once.
    """

    name: str
    family: str
    words: str
    on: On
    lines: tuple[str, ...]
    severity: str
    low: float
    high: float
    moves: str
    ramp_s: float = 0.0


_TWIN, _SINGLE, _BOTH = ("twin-screw",), ("single-screw",), ("twin-screw", "single-screw")
_FEED, _HEAT, _PRESS, _DRIVE, _START, _VENT = (
    "feeding", "heaters and couples", "pressure path", "drive", "start and stop", "vent",
)  # fmt: skip
_TEMP = "temperatures"

_TABLE = (
    FaultKind("feeder_bridged", _FEED, "feeder bridged", "feeder", _TWIN, "part of the flow lost", 0.6, 1.0,
              "rate falls, drive climbs to its limit, weight stands still; torque, then pressure fall"),
    FaultKind("feeder_bridged_volumetric", _FEED, "feeder bridged, fell back to volumetric", "feeder", _TWIN,
              "part of the flow lost", 0.9, 1.0,
              "after half a minute rate reads on set and drive is normal; weight stands still; torque, pressure fall"),
    FaultKind("feeder_tripped", _FEED, "feeder tripped", "feeder", _TWIN, "1", 1.0, 1.0,
              "drive and rate to zero at once; torque, then pressure fall"),
    FaultKind("feeder_empty", _FEED, "feeder ran empty, refill not answered", "feeder", _TWIN, "1", 1.0, 1.0,
              "refill calls, weight goes on falling to zero, then rate falls and drive climbs"),
    FaultKind("feeder_off_target", _FEED, "feeder off target", "feeder", _TWIN, "part of the rate missing at full drive",
              0.06, 0.3, "feed factor drops, drive at its limit, rate below set"),
    FaultKind("wrong_setpoint", _FEED, "wrong set-point, followed", "feeder", _TWIN, "relative change of the set-point",
              0.06, 0.3, "set-point and rate step together, shares wrong"),
    FaultKind("scale_span", _FEED, "scale span wrong", "feeder", _TWIN, "scale over-reads losses by this part", 0.04,
              0.15, "rate stays on set; drive and true rate step; torque moves with them"),
    FaultKind("path_blocked", _FEED, "path blocked between feeders and throat", "line", _TWIN, "part of the way closed",
              0.8, 1.0, "all feeders on set; torque falls toward no-load, then pressure; chute fills, lifts the scale late"),
    FaultKind("refill_flushing", _FEED, "feeder flushes in refill", "feeder", _TWIN, "extra flow in a refill, relative",
              0.3, 1.5, "rate frozen on set in each refill while more goes out; torque and pressure bumps"),
    FaultKind("flooded_intake", _FEED, "flooded, intake-limited", "line", _TWIN, "intake falls short of the feed by",
              0.05, 0.3, "feed backs up in the throat; torque and pressure flat or low; feeders on set until chute packs"),
    FaultKind("flooded_torque", _FEED, "flooded, torque-limited", "line", _TWIN, "torque the rate asks for, over the limit, by this part", 0.03, 0.2,
              "torque climbs to its limit, speed is taken back and hunts", 60.0),
    FaultKind("throat_bridged", _FEED, "starved, throat bridged", "line", _SINGLE, "part of the throat closed", 0.5, 1.0,
              "load, then pressure and rate fall; hopper level stands still", 8.0),
    FaultKind("hopper_empty", _FEED, "starved, hopper ran empty", "line", _SINGLE, "1", 1.0, 1.0,
              "level falls through several loader cycles to zero, then load, pressure, rate fall"),
    FaultKind("surging", _FEED, "surging", "line", _SINGLE, "depth of the dips", 0.15, 0.5,
              "load, then pressure and rate dip again and again, lopsided; the mean falls"),
    FaultKind("viscous_lot", _PRESS, "viscous lot", "line", _BOTH, "consistency up by this part", 0.12, 0.5,
              "load and pressure rise, rate holds", 240.0),
    FaultKind("screen_blinding", _PRESS, "screen blinding", "line", _BOTH, "rise of the screen's share per hour, in parts "
              "of the clean total pressure", 0.2, 1.5, "pressure ahead of the screen climbs; behind it stays", -1.0),
    FaultKind("restricted", _PRESS, "restricted by screen or die", "line", _BOTH, "pressure up by this part", 0.25, 0.7,
              "pressure up, melt temperature slightly up, load slightly up; single-screw: rate slightly down", 120.0),
    FaultKind("die_blocked", _PRESS, "die blocked, toward over-pressure", "line", _BOTH, "part of the die closed",
              0.985, 1.0, "pressure climbs several bar a second until the cut-out stops the line", 2.0),
    FaultKind("burst_disc", _PRESS, "burst disc open, or leak", "line", _BOTH, "1", 1.0, 1.0,
              "pressure to nearly zero in a second or two; feeds and torque go on"),
    FaultKind("pressure_frozen", _PRESS, "pressure sensor frozen", "line", _BOTH, "1", 1.0, 1.0,
              "the reading stands still, nothing else moves"),
    FaultKind("pressure_drift", _PRESS, "slow drift of pressure", "line", _BOTH, "consistency up by this part per hour",
              0.04, 0.2, "pressure and torque creep up together", -1.0),
    FaultKind("heater_dead", _HEAT, "heater dead", "zone", _BOTH, "1", 1.0, 1.0,
              "temperature sags, output climbs to its limit, current zero, neighbours heat more"),
    FaultKind("heater_partial", _HEAT, "part of the heater bands dead", "zone", _BOTH, "part of the bands dead", 0.33,
              0.67, "temperature holds, duty higher by 1/(1 - part)"),
    FaultKind("contactor_on", _HEAT, "contactor stuck on", "zone", _BOTH, "1", 1.0, 1.0,
              "temperature climbs at zero output, cooling comes on; heater current without output"),
    FaultKind("cooling_stuck", _HEAT, "cooling stuck open", "zone", _BOTH, "cooling flow, part of full", 0.1, 0.4,
              "temperature dips, duty stays unusually high, no cooling asked for"),
    FaultKind("cooling_dead", _HEAT, "cooling dead or scaled", "zone", _BOTH, "part of the cooling lost", 0.8, 1.0,
              "in a zone that must cool: above set, cooling saturated"),
    FaultKind("thermocouple_open", _HEAT, "thermocouple open, up-scale", "zone", _BOTH, "1", 1.0, 1.0,
              "reading jumps to the range end, heat off, real zone cools"),
    FaultKind("thermocouple_shorted", _HEAT, "thermocouple shorted", "zone", _BOTH, "1", 1.0, 1.0,
              "reading jumps toward the hall, full heat, real zone overheats"),
    FaultKind("thermocouple_frozen", _HEAT, "thermocouple frozen", "zone", _BOTH, "1", 1.0, 1.0,
              "reading stands still, output drifts to an end or stands"),
    FaultKind("thermocouple_loose", _HEAT, "thermocouple loose, reads low", "zone", _BOTH, "reads low by, C", 8.0, 30.0,
              "output rises, reading returns to set, real zone hotter, neighbours' outputs fall", 60.0),
    FaultKind("zone_hunting", _HEAT, "zone hunting", "zone", _BOTH, "loop gain over its ultimate gain", 1.2, 1.8,
              "temperature and output swing regularly"),
    FaultKind("zone_over_temperature", _TEMP, "zone over temperature", "zone", _BOTH, "set-point raised by, C", 12.0,
              30.0, "set-point, then temperature above the recipe's"),
    FaultKind("zone_under_temperature", _TEMP, "zone under temperature", "zone", _BOTH, "set-point lowered by, C", 12.0,
              30.0, "set-point, then temperature below the recipe's"),
    FaultKind("melt_over_temperature", _TEMP, "melt over temperature", "line", _BOTH, "screw heat up by this part", 0.12,
              0.35, "melt temperature, torque up; zones heat less or cool", 600.0),
    FaultKind("melt_temperature_drift", _TEMP, "slow drift of melt temperature", "line", _BOTH,
              "screw heat up by this part per hour", 0.02, 0.08, "melt temperature creeps up", -1.0),
    FaultKind("cold_start", _START, "cold start", "zone", _BOTH, "zone held below softening by, C", 15.0, 70.0,
              "the screw turns while the zone is not hot: torque and pressure high"),
    FaultKind("hot_hold", _START, "hot stagnant hold", "line", _BOTH, "1", 1.0, 1.0,
              "screw and feed stopped, zones stay at temperature"),
    FaultKind("feeding_stopped_screw", _START, "feeders deliver while the screw stands", "line", _TWIN, "1", 1.0, 1.0,
              "speed, torque, pressure zero, feeder rates on set until the chute packs"),
    FaultKind("turning_empty", _START, "screw turns empty", "line", _TWIN, "1", 1.0, 1.0,
              "feeders stopped, speed held, torque at no-load, pressure decays"),
    FaultKind("coupling_gone", _DRIVE, "screw coupling gone", "line", _BOTH, "1", 1.0, 1.0,
              "torque steps below no-load within a second, feeds on set, pressure decays, throat fills"),
    FaultKind("vacuum_lost", _VENT, "vacuum lost", "line", _TWIN, "part of the vacuum lost", 0.15, 1.0,
              "vent pressure rises"),
    FaultKind("vent_flooded", _VENT, "vent flooded", "line", _TWIN, "part of the port closed by melt", 0.5, 1.0,
              "dome gauge: vacuum lost; pump-side gauge: deeper and quieter; torque up, pressure down", 60.0),
)  # fmt: skip

FAULTS: dict[str, FaultKind] = {kind.name: kind for kind in _TABLE}
"""Every kind by name. ramp_s -1: grows for as long as it lasts."""


@dataclass(frozen=True)
class Fault:
    """One fault of a run. start_s, end_s from the start of the run; end_s may lie beyond its end.

    subject: feeder or zone name, '' for the whole line.
    """

    kind: str
    subject: str
    start_s: float
    end_s: float
    severity: float = 1.0

    def __post_init__(self) -> None:
        if self.kind not in FAULTS:
            raise ValueError(f"no fault '{self.kind}'; known: {', '.join(FAULTS)}")
        if not self.end_s > self.start_s:
            raise ValueError(f"fault {self.kind} ends at {self.end_s:g} s, before it starts")
