"""A couple's reading does not move although what heats its zone has."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.levels import rule
from monitor.records import Evidence, Family
from monitor.view import CoarseView

USUAL_RESOLUTION_C = 0.1


@dataclass(frozen=True)
class ThermocoupleFrozen:
    """A zone's reading has stood still for long, and its output has moved enough that it should not have.

    An operator would say: "that temperature has not changed all morning". Flat to the digit for 30 min and the
    mean output since then differs from the output before by so much that even a sluggish zone (`gain_c_pct`,
    `time_constant_s`) would have moved by more than 3 resolutions and 1.5 C. The resolution is learned from the
    smallest step the reading has ever made. Look-alikes: coarse resolution, logger deadband, good control
    (the output does not move, or moves as much as the load asks): a long hold alone is never said.
    Needs zone outputs. Missing readings start the flat time anew. Memory: 10 numbers a zone.
    Gain and time constant: low end of usual barrel zones, values from memory.
    """

    flat_s: float = setting(1800, 300, 14400, "s")
    gain_c_pct: float = setting(1.0, 0.1, 10, "C per % output")
    time_constant_s: float = setting(2700, 300, 7200, "s")
    least_c: float = setting(1.5, 0.2, 20, "C")
    resolutions: float = setting(3, 1, 20, "resolutions")
    changes: float = setting(60, 10, 1000, "changes seen before a hold can stand out")
    times_longest: float = setting(10, 3, 100, "times the longest hold before")

    name: ClassVar[str] = "thermocouple_frozen"
    family: ClassVar[Family] = "sensor"
    title: ClassVar[str] = "couple frozen"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output")
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Zones with temperature and output."""
        outputs = ctx.subjects_of("zone_output")
        return tuple(name for name in ctx.subjects_of("zone_temperature") if name in outputs)

    def channel(self, subject: str) -> str:
        """The temperature."""
        return channel_key("zone_temperature", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The flat time is the delay."""
        return Timing(10.0, 10.0)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen. before: slow mean of the output while the reading still moved."""
        count = len(subjects)
        return {
            "held": np.full(count, np.nan),
            "flat_s": np.zeros(count),
            "resolution": np.full(count, np.nan),
            "before": np.full(count, np.nan),
            "expected": np.zeros(count),
            "most": np.zeros(count),
            "changes": np.zeros(count),
            "longest_s": np.zeros(count),
        }

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a zone; the zone's answer to its output is followed as a first-order lag."""
        low, high = view.low_high("zone_temperature", subjects)
        output = view.rows("zone_output", subjects)
        shape = low.shape
        flat_out, expected_out, resolution_out = np.zeros(shape), np.zeros(shape), np.zeros(shape)
        held, flat, resolution = state["held"], state["flat_s"], state["resolution"]
        before, expected, most = state["before"], state["expected"], state["most"]
        changes, longest = state["changes"], state["longest_s"]
        stands_out = np.zeros(shape, bool)
        running = view.in_phase("steady", "settling")
        step_s = view.step / 1e9
        for i in range(view.n):
            a, b, out = low[:, i], high[:, i], output[:, i]
            still = (a == b) & (a == held)
            with np.errstate(invalid="ignore"):
                moved = np.fmin(np.where(b > a, b - a, np.inf), np.where(a != held, np.abs(a - held), np.inf))
            stepped = np.isfinite(moved) & (moved > 1e-9)
            resolution = np.where(stepped, np.fmin(resolution, moved), resolution)
            known = np.isfinite(out)
            usual = np.where(np.isnan(before), out, before + 0.1 * (out - before))
            before = np.where(still | ~known, before, usual)
            push = np.where(known & still, self.gain_c_pct * (out - before), 0.0)
            lag = step_s / self.time_constant_s
            expected = np.where(still, expected + lag * (push - expected), 0.0)
            most = np.where(still, np.fmax(most, np.abs(expected)), 0.0)
            known_hold = np.isfinite(a) & running[i]
            changes = np.where(known_hold & ~still, changes + 1, changes)
            longest = np.where(known_hold & ~still, np.fmax(longest, flat), longest)
            flat = np.where(still, flat + step_s, 0.0)
            stands_out[:, i] = (changes >= self.changes) & (flat >= self.times_longest * longest) & running[i]
            held = np.where(a == b, a, np.nan)
            flat_out[:, i], expected_out[:, i] = flat, most
            resolution_out[:, i] = np.where(np.isnan(resolution), USUAL_RESOLUTION_C, resolution)
        needed = np.fmax(self.resolutions * resolution_out, self.least_c)
        by_output = expected_out > needed
        frozen = (flat_out >= self.flat_s) & (by_output | stands_out)
        level = rule(frozen, np.isfinite(low), np.ones(view.n, bool))
        facts = {
            "value": low,
            "flat_s": flat_out,
            "expected": expected_out,
            "output": output,
            "resolution": resolution_out,
            "by_output": by_output.astype(float),
        }
        after = {
            "held": held,
            "flat_s": flat,
            "resolution": resolution,
            "before": before,
            "expected": expected,
            "most": most,
            "changes": changes,
            "longest_s": longest,
        }
        return after, Judged(level, flat_out, facts)

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How long flat, and how far it should have moved."""
        return Explanation(
            f"zone {subject} has read {facts['value']:.1f} C without a change for {facts['flat_s'] / 60:.0f} min "
            + ("while its output moved" if facts["by_output"] else "after changing all the time before"),
            2 if facts["by_output"] else 3,
            "medium" if facts["by_output"] else "low",
            (
                Evidence("unchanged for", facts["flat_s"] / 60, "min", None, None, self.channel(subject)),
                Evidence("should have moved by at least", facts["expected"], "C"),
                Evidence("zone output", facts["output"], "%", None, None, channel_key("zone_output", subject)),
            ),
            ("input or transmitter frozen", "controller holds its last value", "logger keeps an old value"),
            ("reading at the controller itself", "couple and input card", "neighbours and melt temperature"),
            cautions.HEAT,
        )
