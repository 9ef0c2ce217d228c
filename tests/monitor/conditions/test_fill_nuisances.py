"""What must not raise a finding of how full the screws are: everyday events on a twin and on a single screw."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.backed_up import BackedUp
from monitor.conditions.coupling_gone import CouplingGone
from monitor.conditions.flooded import Flooded
from monitor.conditions.restricted import Restricted
from monitor.conditions.starved import Starved
from monitor.conditions.surging import Surging
from monitor.conditions.vent_flooded import VentFlooded
from monitor.conditions.viscous_lot import ViscousLot
from monitor.line import Line
from tests.monitor.conditions.told import SINGLE, Story, single, told
from tests.monitor.scripted_world import FEEDERS, Script
from tests.monitor.world_fill import FILL_LINE, FillScript

ALL = (
    CouplingGone(), Restricted(), ViscousLot(), Starved(), Flooded(), BackedUp(), VentFlooded(), Surging(),
)  # fmt: skip
LOG_S, FROM, TO = 3600, 1800, 2400
LOADED = ("torque", "melt_pressure:P1", "melt_pressure:P2")


def scale(s: Script, start: float, end: float, **factors: float) -> None:
    for name, factor in factors.items():
        for key in {"pressure": ("melt_pressure:P1", "melt_pressure:P2")}.get(name, (name,)):
            if key in s.x:
                s.scale(key, start, end, factor)


def feeds(s: Script, start: float, end: float, factor: float, setpoints: bool) -> None:
    for feeder in FEEDERS:
        for what in ("rate", "setpoint") if setpoints else ("rate",):
            if f"feeder_{what}:{feeder}" in s.x:
                s.scale(f"feeder_{what}:{feeder}", start, end, factor)
    if "line_rate" in s.x:
        s.scale("line_rate", start, end, factor)
        if setpoints:  # a flood-fed screw makes less when it turns slower
            scale(s, start, end, screw_speed=factor, screw_speed_setpoint=factor)


def planned_lower_rate(s: Script) -> None:
    feeds(s, FROM, LOG_S, 0.75, True)
    scale(s, FROM + 5, LOG_S, torque=0.8, pressure=0.9)


def planned_higher_rate(s: Script) -> None:
    feeds(s, FROM, LOG_S, 1.2, True)
    scale(s, FROM + 5, LOG_S, torque=1.16, pressure=1.07)


def planned_ramp_of_rate(s: Script) -> None:
    """Five steps of 3 % in ten minutes."""
    for step in range(5):
        feeds(s, FROM + 120 * step, LOG_S, 1.03, True)
        scale(s, FROM + 120 * step + 5, LOG_S, torque=1.025, pressure=1.01)


def faster_screw(s: Script) -> None:
    """Same feed: emptier screws, less torque, melt a little hotter."""
    scale(s, FROM, LOG_S, screw_speed=1.25, screw_speed_setpoint=1.25, torque=0.82, pressure=0.98)


def slower_screw(s: Script) -> None:
    scale(s, FROM, LOG_S, screw_speed=0.85, screw_speed_setpoint=0.85, torque=1.1, pressure=1.01)


def speed_pulled_up_by_hand_in_small_steps(s: Script) -> None:
    for step in range(4):
        scale(s, FROM + 60 * step, LOG_S, screw_speed=1.04, screw_speed_setpoint=1.04, torque=0.96)


def refills_of_all_feeders_at_once(s: Script) -> None:
    for feeder in FEEDERS:
        if f"feeder_refill:{feeder}" in s.x:
            s.put(f"feeder_refill:{feeder}", FROM, FROM + 30, 1.0)
            s.x[f"feeder_weight:{feeder}"][s.span(FROM + 30, LOG_S)] += 25
            s.scale(f"feeder_rate:{feeder}", FROM + 30, FROM + 90, 1.05)


def refill_by_hand(s: Script) -> None:
    """Ten minutes; someone leans on the hopper, the reported rate goes both ways, the drive holds."""
    for first, factor in ((0, 0.88), (60, 1.1), (120, 1.0)):
        if "feeder_rate:F1" in s.x:
            s.scale("feeder_rate:F1", FROM + first, FROM + first + 60, factor)


def idle_while_strands_are_threaded(s: Script) -> None:
    for feeder in FEEDERS:
        for what in ("rate", "setpoint", "drive"):
            if f"feeder_{what}:{feeder}" in s.x:
                s.put(f"feeder_{what}:{feeder}", FROM, TO, 0.0)
    s.put("torque", FROM + 10, TO, 9.0)
    s.put("melt_pressure:P1", FROM + 20, TO, 8.0)
    if "line_rate" in s.x:
        for key in ("screw_speed", "screw_speed_setpoint"):
            s.put(key, FROM, TO, 30.0)
        s.put("line_rate", FROM, TO, 20.0)


def planned_stop(s: Script) -> None:
    """The feed is run out, the screw goes on for a minute, then slows and stops."""
    for feeder in FEEDERS:
        for what in ("rate", "setpoint", "drive"):
            if f"feeder_{what}:{feeder}" in s.x:
                s.put(f"feeder_{what}:{feeder}", FROM, LOG_S, 0.0)
    speed_stops(s, FROM + 60)


def feeders_switched_off_before_a_stop(s: Script) -> None:
    """The set-points stand; rates and drives go to zero together, half a minute later the screw stops."""
    if "feeder_rate:F1" not in s.x:
        return
    for feeder in FEEDERS:
        s.put(f"feeder_rate:{feeder}", FROM, LOG_S, 0.0)
        s.put(f"feeder_drive:{feeder}", FROM, LOG_S, 0.0)
    s.put("torque", FROM + 15, FROM + 45, 12.0)
    s.scale("melt_pressure:P1", FROM + 15, FROM + 45, 0.7)
    speed_stops(s, FROM + 45)


def rates_that_die_away_in_a_filter_before_a_stop(s: Script) -> None:
    if "feeder_rate:F1" not in s.x:
        return
    fade = np.exp(-np.arange(LOG_S - FROM) / 12.0)
    for feeder in FEEDERS:
        s.x[f"feeder_rate:{feeder}"][s.span(FROM, LOG_S)] *= fade
        s.put(f"feeder_drive:{feeder}", FROM, LOG_S, 0.0)
    s.put("torque", FROM + 15, FROM + 50, 12.0)
    speed_stops(s, FROM + 50)


def speed_stops(s: Script, at: float) -> None:
    ramp = np.clip(1 - np.arange(LOG_S - at) / 10.0, 0, 1)
    for key in ("screw_speed", "screw_speed_setpoint"):
        s.x[key][s.span(at, LOG_S)] *= ramp
    s.put("torque", at, LOG_S, 0.0)
    s.put("melt_pressure:P1", at, LOG_S, 3.0)
    s.put("screw_speed_setpoint", at, LOG_S, 0.0)


def limiter_trims_the_feed(s: Script) -> None:
    """Torque nears its limit; the drive's limiter takes all feeders back together, their set-points stand."""
    s.put("torque", FROM, FROM + 60, 91.0)
    s.put("torque", FROM + 60, TO, 84.0)
    feeds(s, FROM + 60, TO, 0.88, False)


def thin_lot_with_a_small_shift(s: Script) -> None:
    scale(s, FROM, LOG_S, torque=0.95, pressure=0.94)


def stiff_lot_with_a_small_shift(s: Script) -> None:
    scale(s, FROM, LOG_S, torque=1.04, pressure=1.06)


def other_bulk_density_all_taken(s: Script) -> None:
    scale(s, FROM, LOG_S, **{"feeder_drive:F1": 1.15})


def slide_after_a_start(s: Script) -> None:
    part = s.span(0, LOG_S)
    for key, share in (("torque", 0.08), ("melt_pressure:P1", 0.06)):
        s.x[key][part] *= 1 - share * np.arange(len(s.x[key])) / LOG_S


def communication_gap(s: Script) -> None:
    for key in s.x:
        s.put(key, FROM, FROM + 200, float("nan"))


def long_communication_gap(s: Script) -> None:
    for key in s.x:
        s.put(key, FROM, FROM + 900, float("nan"))


def controller_restart_writes_zeros(s: Script) -> None:
    for key in s.x:
        s.put(key, FROM, FROM + 20, 0.0)


def drive_controller_restart_writes_zeros(s: Script) -> None:
    """Speed and torque read zero for some seconds, everything else goes on."""
    for key in ("screw_speed", "torque"):
        s.put(key, FROM, FROM + 8, 0.0)


def torque_signal_dead(s: Script) -> None:
    s.put("torque", FROM, FROM + 15, 0.0)


def one_stale_controller(s: Script) -> None:
    """The feeder controller's values stand still for half an hour."""
    for key in s.x:
        if key.startswith("feeder_rate"):
            s.x[key][s.span(FROM, LOG_S)] = s.x[key][int(FROM)]


def one_sample_spikes(s: Script) -> None:
    rng = np.random.default_rng(5)
    for key in ("torque", "melt_pressure:P1", "screw_speed"):
        for place in rng.integers(600, LOG_S - 10, 12).tolist():
            s.x[key][place] *= float(rng.choice([0.1, 2.0]))


def tramp_metal(s: Script) -> None:
    s.put("torque", FROM, FROM + 3, 115.0)
    s.scale("screw_speed", FROM, FROM + 3, 0.9)


def short_dip_of_torque(s: Script) -> None:
    s.put("torque", FROM, FROM + 2, 8.5)


def zero_shift_of_the_barrel_sensor(s: Script) -> None:
    for key in ("melt_pressure:Z2", "melt_pressure:V1"):
        if key in s.x:
            s.x[key][s.span(FROM, LOG_S)] += 3.0


def vent_cleaning(s: Script) -> None:
    if "vacuum:V1" in s.x:
        s.put("vacuum:V1", FROM, FROM + 240, 980.0)


def vacuum_wanted_otherwise(s: Script) -> None:
    for what in ("vacuum", "vacuum_setpoint"):
        if f"{what}:V1" in s.x:
            s.x[f"{what}:V1"][s.span(FROM, LOG_S)] += 100.0
    scale(s, FROM, LOG_S, torque=1.05)


def integer_tags(s: Script) -> None:
    for key in ("torque", "melt_pressure:P1", "screw_speed"):
        s.x[key][:] = np.round(s.x[key])


def screen_blinds_slowly(s: Script) -> None:
    n = len(s.x["melt_pressure:P1"])
    s.x["melt_pressure:P1"] *= 1 + 0.05 * np.arange(n) / n


STORIES: tuple[Story, ...] = (
    planned_lower_rate, planned_higher_rate, planned_ramp_of_rate, faster_screw, slower_screw,
    speed_pulled_up_by_hand_in_small_steps, refills_of_all_feeders_at_once, refill_by_hand,
    idle_while_strands_are_threaded, planned_stop, feeders_switched_off_before_a_stop,
    rates_that_die_away_in_a_filter_before_a_stop, limiter_trims_the_feed, thin_lot_with_a_small_shift,
    stiff_lot_with_a_small_shift, other_bulk_density_all_taken, slide_after_a_start, communication_gap,
    long_communication_gap, controller_restart_writes_zeros, drive_controller_restart_writes_zeros, torque_signal_dead,
    one_stale_controller, one_sample_spikes, tramp_metal, short_dip_of_torque, zero_shift_of_the_barrel_sensor,
    vent_cleaning, vacuum_wanted_otherwise, integer_tags, screen_blinds_slowly,
)  # fmt: skip


def current_line() -> Line:
    """The fill line with motor current in place of torque, its magnetising part not stated."""
    data = FILL_LINE.model_dump()
    data["drive"] = {**data["drive"], "rated_current_a": 100.0}
    data["sensor"] = [{**one, "role": "motor_current"} if one["role"] == "torque" else one for one in data["sensor"]]
    return Line.model_validate({**data, "version": "fill by current"})


def as_current(s: Script) -> None:
    """100 A rated, 30 A of it magnetising; a torque of zero is a current of zero, the drive is off."""
    torque = s.x["torque"] / 100
    amps = 100 * np.sqrt(0.3**2 + (1 - 0.3**2) * torque**2)
    s.x["motor_current"] = np.where(torque == 0, 0.0, amps)


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.__name__)
@pytest.mark.parametrize("kind", ["twin", "twin by current", "single"])
def test_stays_silent(kind: str, story: Story) -> None:
    s = single(LOG_S) if kind == "single" else FillScript(LOG_S)
    story(s)
    line = SINGLE if kind == "single" else FILL_LINE
    if kind == "twin by current":
        as_current(s)
        line = current_line()

    assert [f.last.summary for f in told(s, *ALL, line=line)] == []
