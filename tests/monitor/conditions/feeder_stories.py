"""What happens at feeders and is no fault: every feeder condition must stay silent on each of these."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from ingest.block import Note
from monitor.contract import Condition
from monitor.records import Finding
from tests.monitor.conditions.told import told, without
from tests.monitor.scripted_world import NS, T0
from tests.monitor.world_feeders import SETS, FeederScript, feeder_line, feeder_recipe

LOG_S, FROM = 5400, 2700
Story = Callable[[FeederScript], None]


def calm(seconds: int = LOG_S, seed: int = 31, cadence_s: float = 1.0) -> FeederScript:
    """Undisturbed running, refills of F1 and F2 marked, F2 with enough in its hopper for the whole log."""
    s = FeederScript(seconds, seed, cadence_s)
    s.even_weight("F2", 180, 0, seconds)
    return s


def told_of(s: FeederScript, story: Story, condition: Condition, without_roles: Sequence[str] = ()) -> list[Finding]:
    """Every finding of one condition on one story, as it stood last; without_roles: not logged."""
    story(s)
    line = without(feeder_line(s.cadence), *without_roles) if without_roles else None
    return told(s, condition, line=line, recipe=feeder_recipe())


def undisturbed(s: FeederScript) -> None:
    """Refills of F1 every seven minutes, a step of weight in one second, marked."""


def drawn(s: FeederScript, feeder: str, factor: float) -> None:
    """From now on a hopper loses `factor` times what it did, and lasts to the end of the log."""
    s.even_weight(feeder, 900, 0, LOG_S)
    s.loses(feeder, FROM, LOG_S, (factor - 1) * SETS[feeder])


def refills_unmarked(s: FeederScript) -> None:
    """The refill mark is stuck at 0 on all feeders."""
    for feeder in ("F1", "F2", "F3"):
        s.put(f"feeder_refill:{feeder}", 0, LOG_S, 0)
    s.refill("F2", FROM, 30, marked=False)


def all_filled_at_once(s: FeederScript) -> None:
    """Three feeders filled by hand for ten minutes, in bags, rates held on set, overshooting after."""
    for feeder, bag in (("F2", 20.0), ("F3", 4.0)):
        for minute in range(10):
            s.refill(feeder, FROM + 60 * minute, bag, over_s=25)
        s.put(f"feeder_refill:{feeder}", FROM, FROM + 600, 1)
        s.put(f"feeder_rate:{feeder}", FROM, FROM + 610, SETS[feeder])
        s.put(f"feeder_drive:{feeder}", FROM, FROM + 610, 45)
        s.scale(f"feeder_rate:{feeder}", FROM + 610, FROM + 640, 1.06)
    s.put("feeder_gravimetric:F2", FROM, FROM + 620, 0)


def catch_sample(s: FeederScript) -> None:
    """Somebody catches the filler for 20 s."""
    s.scale("feeder_rate:F2", FROM, FROM + 20, 0.8)


def leaned_on(s: FeederScript) -> None:
    """Somebody leans on the hopper for 25 s: weight up by 6 kg, the controller thrown off for a moment."""
    s.x["feeder_weight:F2"][s.span(FROM, FROM + 25)] += 6
    s.scale("feeder_rate:F2", FROM, FROM + 30, 0.85)


def tare(s: FeederScript) -> None:
    """The scale is tared: every weight from now on 3 kg less."""
    s.x["feeder_weight:F2"][s.span(FROM, LOG_S)] -= 3


def calibrated(s: FeederScript) -> None:
    """A test weight of 10 kg is put on and taken off a minute later, feeder in volumetric."""
    s.x["feeder_weight:F2"][s.span(FROM, FROM + 60)] += 10
    s.put("feeder_gravimetric:F2", FROM - 10, FROM + 80, 0)


def emptied(s: FeederScript) -> None:
    """F3 is switched off, then its hopper emptied in a minute."""
    for what in ("rate", "setpoint", "drive"):
        s.put(f"feeder_{what}:F3", FROM, LOG_S, 0)
    s.put("feeder_weight:F3", FROM, FROM + 120, 40)
    s.put("feeder_weight:F3", FROM + 120, FROM + 180, 40, slope_s=-0.66)
    s.put("feeder_weight:F3", FROM + 180, LOG_S, 0.4)


def extraction_pulse(s: FeederScript) -> None:
    """The dust extraction sucks at the hopper every 25 s for half an hour."""
    part = s.span(FROM, FROM + 1800)
    clock = np.arange(len(s.x["feeder_weight:F2"][part])) * s.cadence
    s.x["feeder_weight:F2"][part] += 0.15 * (np.sin(2 * np.pi * clock / 25) > 0.8)


def blanket_gas(s: FeederScript) -> None:
    """Nitrogen on the hopper lifts the scale by 0.4 kg for ten minutes."""
    s.x["feeder_weight:F2"][s.span(FROM, FROM + 600)] -= 0.4


def rate_trimmed(s: FeederScript) -> None:
    """Ratio control takes all feeders down by 4 % for twenty minutes, and the machine follows."""
    for feeder in SETS:
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, FROM + 1200, 0.96)
        if f"feeder_drive:{feeder}" in s.x:
            s.scale(f"feeder_drive:{feeder}", FROM, FROM + 1200, 0.96)
    s.scale("torque", FROM + 5, FROM + 1205, 0.965)
    s.scale("melt_pressure:P1", FROM + 30, FROM + 1230, 0.986)


def rate_changed(s: FeederScript) -> None:
    """A planned change of rate, a fifth up, of all feeders; drives follow."""
    for feeder in ("F1", "F2", "F3"):
        drawn(s, feeder, 1.2)
    for feeder in SETS:
        for what in ("rate", "setpoint"):
            s.scale(f"feeder_{what}:{feeder}", FROM, LOG_S, 1.2)
        if f"feeder_drive:{feeder}" in s.x:
            s.scale(f"feeder_drive:{feeder}", FROM, LOG_S, 1.2)
    s.scale("torque", FROM + 5, LOG_S, 1.15)
    s.scale("injection_pressure:L4", FROM, LOG_S, 1.2)
    s.scale("stuffer_load:F2", FROM, LOG_S, 1.15)


def recipe_changed(s: FeederScript) -> None:
    """Another recipe that nobody gave: other set-points, other materials, other feed factors."""
    drawn(s, "F2", 1.5)
    drawn(s, "F1", 0.9)
    s.notes.append(Note(T0 + FROM * NS, "recipe", "R2"))
    for what in ("rate", "setpoint"):
        s.scale(f"feeder_{what}:F2", FROM, LOG_S, 1.5)
        s.scale(f"feeder_{what}:F1", FROM, LOG_S, 0.9)
    s.scale("feeder_drive:F2", FROM, LOG_S, 1.2)
    s.scale("torque", FROM, LOG_S, 1.1)


def stopped(s: FeederScript) -> None:
    """A planned stop of five minutes; everything comes back."""
    for key in ("screw_speed", "screw_speed_setpoint", "torque"):
        s.put(key, FROM, FROM + 300, 0)
    for feeder in SETS:
        for what in ("rate", "setpoint", "drive"):
            if f"feeder_{what}:{feeder}" in s.x:
                s.put(f"feeder_{what}:{feeder}", FROM - 10, FROM + 310, 0)
    s.put("melt_pressure:P1", FROM, FROM + 310, 3)
    s.put("injection_pressure:L4", FROM - 10, FROM + 310, 1)


def gap(s: FeederScript) -> None:
    """No data from any feeder for three minutes."""
    for key in s.x:
        if key.startswith(("feeder", "injection", "stuffer")):
            s.put(key, FROM, FROM + 180, float("nan"))


def controller_restart(s: FeederScript) -> None:
    """The feeder controller restarts and writes zeros for 8 s."""
    for key in s.x:
        if key.startswith(("feeder", "injection", "stuffer")) and "setpoint" not in key:
            s.put(key, FROM, FROM + 8, 0.0)


def rounded(s: FeederScript) -> None:
    """Rates as whole numbers, weights in tenths."""
    for key in s.x:
        if key.startswith("feeder_rate"):
            s.x[key] = np.round(s.x[key])
        if key.startswith("feeder_weight"):
            s.x[key] = np.round(s.x[key], 1)


def small_new_lot(s: FeederScript) -> None:
    """A lot a little denser: 4 % less drive, 1.5 % more torque."""
    s.refill("F2", FROM, 25)
    s.scale("feeder_drive:F2", FROM + 20, LOG_S, 0.96)
    s.scale("torque", FROM + 60, LOG_S, 1.015)


def echoed(s: FeederScript) -> None:
    """The rate tags are the set-points."""
    for feeder in ("F1", "F2", "F3"):
        s.x[f"feeder_rate:{feeder}"] = s.x[f"feeder_setpoint:{feeder}"].copy()


STORIES: tuple[Story, ...] = (
    undisturbed, refills_unmarked, all_filled_at_once, catch_sample, leaned_on, tare, calibrated, emptied,
    extraction_pulse, blanket_gas, rate_trimmed, rate_changed, recipe_changed, stopped, gap, controller_restart,
    rounded, small_new_lot, echoed,
)  # fmt: skip
