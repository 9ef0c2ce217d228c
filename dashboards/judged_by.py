"""By what a line is judged where no recipe holds: said in the place of windows, which there are none of then."""

from __future__ import annotations

from dashboards.texts import say
from ingest.roles import split_key
from monitor.line import Line

SETPOINTS = frozenset({"zone_setpoint", "screw_speed_setpoint", "feeder_setpoint", "vacuum_setpoint"})
"""Roles of what is wanted that a reading is held against."""


def ways_of(line: Line, *, good_runs: bool = False) -> str:
    """'the machine's limits, set-points, physics and what was usual earlier in the run', as far as the line has them.

    good_runs: what is normal was learned from good runs that were given beside the log.
    """
    roles = {split_key(key)[0] for key in line.channels}
    limits = line.limits
    # A torque is held against its limit always: 100 % where the line file gives no other.
    limited = "torque" in roles or limits.melt_pressure_bar is not None or limits.screw_speed_rpm is not None
    found = [
        say("judged.limits") if limited else "",
        say("judged.setpoints") if roles & SETPOINTS else "",
        say("judged.physics"),
        say("judged.good_runs" if good_runs else "judged.usual"),
    ]
    told = [text for text in found if text]
    return ", ".join(told[:-1]) + say("judged.and") + told[-1]
