"""Less is in the screws than should be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from monitor import cautions
from monitor.conditions.machine_load import Load, gross_torque_pct, load
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, blank, last_known, trailing_extremes, two_threshold
from monitor.levels import rule
from monitor.quantities.load import load_words
from monitor.records import Confidence, Evidence, Family
from monitor.view import CoarseView

FEED_SAYS, MACHINE_SAYS, FLOOD_FED = 1.0, 2.0, 3.0
"""How it was recognised: the feeders say so; all feeders on set and the machine runs empty; flood-fed screw."""

SPEED_SHARE = 0.05
"""A screw that turns faster or slower than it did by more than this is judged anew, not called empty."""

AT_LIMIT_SHARE = 0.9
"""A screw whose torque is this near its limit is not empty, whatever the feeders say."""


@dataclass(frozen=True)
class Starved:
    """Less is in the screws than should be.

    An operator would say: "the extruder is running empty". Never from one quantity. Starve-fed: either the
    feeders deliver less than set and torque or pressure follow; or all feeders are on set and torque falls sharply
    with pressure falling about a third as much (in logarithms): the path to the throat is blocked, or a scale
    lies. Flood-fed: torque and pressure fall together and the measured rate over speed, where there is one, falls
    too; where it holds, the melt is thinner, not less.
    Look-alikes: thin melt (pressure moves at least as much as torque), intake-limited flooding (a rate raised, a
    speed lowered, a feed factor down came first), restriction (pressure up), speed raised (phase 'changing').
    Needs torque, current, power or pressure with a learned expectation, or feeders with set-points.
    Missing readings neither start nor end it. Memory: a switch and 12 cells.
    Thresholds: common practice, no source; loss of feed to pressure from power-law flow, n about 0.35.
    """

    rate_loss: float = setting(0.08, 0.02, 0.5, "of the set rate")
    torque_fall: float = setting(0.12, 0.03, 0.7, "in ln torque, feeders on set")
    confirming_torque_fall: float = setting(0.04, 0.01, 0.5, "in ln torque, feeders off set")
    pressure_fall: float = setting(0.02, 0.0, 0.5, "in ln pressure")
    most_pressure_per_torque: float = setting(0.8, 0.3, 1.0, "ln pressure per ln torque")
    flood_fall: float = setting(0.08, 0.03, 0.5, "in ln torque and ln pressure, flood-fed")
    sigmas: float = setting(5, 2, 20, "sigma")
    sharp_s: float = setting(120, 20, 600, "s")
    on_s: float = setting(20, 10, 600, "s")
    off_s: float = setting(60, 10, 3600, "s")

    name: ClassVar[str] = "starved"
    family: ClassVar[Family] = "starved"
    title: ClassVar[str] = "extruder running empty"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ()
    quantities: ClassVar[tuple[str, ...]] = (
        "net_torque",
        "total_feed",
        "total_setpoint",
        "specific_throughput",
    )

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The line, where anything of its load, pressure or feed is logged."""
        known = ("torque", "motor_current", "drive_power", "melt_pressure", "feeder_setpoint")
        return ("line",) if any(ctx.has(role) for role in known) else ()

    def channel(self, subject: str) -> str:
        """Net torque tells it first."""
        return "net_torque"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Two 10 s cells in."""
        return Timing(self.on_s, self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Not starved."""
        width = max(1, round(self.sharp_s / ctx.step_s))
        return {"on": np.zeros(1, bool), "past": blank(1, width), "way": np.full(1, np.nan)}

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row for the line."""
        found = load(view, ctx)
        _, recent_high, past = trailing_extremes(state["past"], found.torque[None, :])
        sharp = recent_high[0] - found.torque >= 0.6 * np.abs(found.torque)
        if not subjects:
            empty = np.zeros((0, view.n))
            return {**state, "past": past}, Judged(empty.astype(np.int8), empty, {})
        at_limit = gross_torque_pct(view, ctx) >= AT_LIMIT_SHARE * ctx.line.drive.torque_limit_pct
        by_feed = self._feed_says(found) & ctx.starve_fed & ~at_limit
        if ctx.starve_fed:
            by_machine, stays = self._machine_says(found, sharp)
        else:
            by_machine, stays = self._flood_fed(found), self._flood_fed(found, share=0.6)
        rises, falls = by_feed | by_machine, ~((self._feed_says(found, 0.6) & ctx.starve_fed) | stays)
        known = np.isfinite(found.torque) | np.isfinite(found.rate) | np.isfinite(found.pressure)
        usual_speed, _ = view.expectation("screw_speed")
        with np.errstate(invalid="ignore"):
            other_speed = np.abs(view.get("screw_speed") - usual_speed) > SPEED_SHARE * usual_speed
        armed = view.in_phase("steady", "settling") & (view.ages["unchanged"] >= 60.0) & ~other_speed
        on, on_state = two_threshold(state["on"], (rises & armed)[None, :], ((falls & known) | ~armed)[None, :])
        level = rule(on, known[None, :], armed[None, :])
        deep = (np.fmin(found.torque, found.rate) < np.log(0.7)) | (found.torque < np.log(0.7))
        level[0, (level[0] == 1) & deep] = 2
        begins = on[0] & ~np.concatenate((state["on"], on[0]))[:-1]
        now = np.where(by_feed, FEED_SAYS, MACHINE_SAYS if ctx.starve_fed else FLOOD_FED)
        way, way_state = last_known(state["way"], np.where(begins, now, np.nan)[None, :])
        facts = {**load_facts(found, view), "way": way[0], "hopper": view.get("hopper_level")}
        score = np.fmax(-found.torque, -found.rate)[None, :]
        return {"on": on_state, "past": past, "way": way_state}, Judged(level, score, facts)

    def _feed_says(self, found: Load, share: float = 1.0) -> Bools:
        """The feeders deliver less than set, and the machine does not contradict."""
        less = found.rate <= np.log(1 - self.rate_loss * share)
        torque_down = found.torque <= -share * np.fmax(self.confirming_torque_fall, 3 * found.torque_scatter)
        pressure_down = found.pressure <= -share * np.fmax(self.pressure_fall, 3 * found.pressure_scatter)
        silent = np.isnan(found.torque) & np.isnan(found.pressure)
        clear_loss = found.rate <= np.log(1 - 2 * self.rate_loss * share)
        return less & (torque_down | pressure_down | (silent & clear_loss))

    def _machine_says(self, found: Load, sharp: Bools) -> tuple[Bools, Bools]:
        """All feeders on set, torque fell sharply, pressure less than torque but not up. (rises, stays)"""
        least = self.torque_fall * (0.6 if found.raw_current else 1.0)
        most = 1.0 if found.raw_current else self.most_pressure_per_torque
        fall = np.fmax(least, self.sigmas * found.torque_scatter)
        follows = np.isnan(found.pressure) | (
            (found.pressure <= -np.fmax(self.pressure_fall, 2 * found.pressure_scatter))
            & (found.pressure >= most * found.torque)
        )
        rises = (found.torque <= -fall) & follows & sharp & ~(found.rate < np.log(1 - self.rate_loss))
        loose = np.isnan(found.pressure) | ((found.pressure <= 0.0) & (found.pressure >= 1.25 * most * found.torque))
        return rises, (found.torque <= -0.6 * fall) & loose

    def _flood_fed(self, found: Load, share: float = 1.0) -> Bools:
        """Torque and pressure fall together, and the rate over speed, if measured, falls too."""
        least = self.flood_fall * (0.7 if found.raw_current else 1.0) * share
        torque_down = found.torque <= -np.fmax(least, share * self.sigmas * found.torque_scatter)
        pressure_down = found.pressure <= -np.fmax(0.6 * least, share * 4 * found.pressure_scatter)
        rate_down = np.isnan(found.specific_rate) | (found.specific_rate <= -0.6 * least)
        return torque_down & (pressure_down | np.isnan(found.pressure)) & rate_down

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """By which way it was recognised decides words, causes and how sure."""
        way = facts["way"]
        fall = 100 * (1 - np.exp(facts["torque"]))
        evidence = load_evidence(facts, ctx)
        if way == FEED_SAYS:
            short = 100 * (1 - np.exp(facts["rate"]))
            return Explanation(
                f"starved: feeders deliver {short:.0f} % less than set and the machine follows",
                2,
                "high",
                evidence,
                ("the feeder that is off its set-point", "refill not answered: hopper empty"),
                ("the feeder below set: hopper, drive, refill", "what the other shares became"),
                cautions.MOVING,
            )
        if way == MACHINE_SAYS:
            return Explanation(
                f"starved: all feeders on set, torque down {fall:.0f} %: the machine runs emptier than fed",
                2,
                "medium",
                evidence,
                (
                    "path blocked between feeder and throat",
                    "a scale or rate signal lies",
                    "flooded at the intake: less is taken than fed; then it recovers when the rate is cut",
                ),
                (
                    "look into chute and throat",
                    "feeder weight falling as fast as the rate says",
                    "material backing up at the throat",
                ),
                cautions.MOVING,
            )
        measured = facts["specific_rate"] == facts["specific_rate"]
        sure: Confidence = "high" if measured or facts["hopper"] < 10 else "medium"
        return Explanation(
            f"starved: torque down {fall:.0f} % with pressure at the same speed",
            2,
            sure,
            evidence,
            (
                "hopper empty or bridged",
                "throat too hot: molten plug",
                *(() if measured else ("thinner melt: a new lot, hotter zones",)),
            ),
            ("hopper level and throat", "throat cooling", "melt temperature"),
            cautions.MOVING,
        )


def load_facts(found: Load, view: CoarseView) -> dict[str, Floats]:
    """What `load_evidence` needs of each cell, [n] each."""
    expected_torque, _torque_scatter = view.expectation("net_torque")
    return {
        "torque": found.torque,
        "pressure": found.pressure,
        "rate": found.rate,
        "specific_rate": found.specific_rate,
        "melt_c": found.melt_c,
        "net_torque": view.quantity("net_torque"),
        "expected_torque": expected_torque,
        "torque_sigma": found.torque / found.torque_scatter,
        "pressure_sigma": found.pressure / found.pressure_scatter,
        "feed": view.quantity("total_feed"),
        "wanted": view.quantity("total_setpoint"),
    }


def load_evidence(facts: dict[str, float], ctx: Context) -> tuple[Evidence, ...]:
    """What moved and what did not, in units and sigma; used by starved and flooded alike."""
    out = []
    if facts["torque"] == facts["torque"]:
        what, unit = load_words(ctx)
        expected, sigma = facts["expected_torque"], facts["torque_sigma"]
        out.append(Evidence(what, facts["net_torque"], unit, expected, sigma, "net_torque"))
    if facts["pressure"] == facts["pressure"]:
        out.append(
            Evidence(
                "melt pressure against expected",
                100 * (np.exp(facts["pressure"]) - 1),
                "%",
                0.0,
                facts["pressure_sigma"],
            )
        )
    if facts["rate"] == facts["rate"]:
        out.append(Evidence("rate fed", facts["feed"], "kg/h", facts["wanted"], None, "total_feed"))
    if facts["specific_rate"] == facts["specific_rate"]:
        out.append(
            Evidence(
                "rate over speed against expected",
                100 * (np.exp(facts["specific_rate"]) - 1),
                "%",
                0.0,
                None,
                "specific_throughput",
            )
        )
    if facts["melt_c"] == facts["melt_c"]:
        out.append(Evidence("melt temperature against expected", facts["melt_c"], "C", 0.0))
    return tuple(out)
