"""A couple sits loose and reads low: its controller adds heat that the neighbours no longer need."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ingest.roles import channel_key
from monitor import cautions, slipped_couple
from monitor.conditions import current_tells, standing_faults
from monitor.conditions import duty_against_reference as reference
from monitor.conditions.zone_minutes import Levels, Minutes, ZoneMinutes, left_right, others_median
from monitor.conditions.zone_signals import with_cooling
from monitor.contract import Context, Explanation, Judged, State, Timing, setting
from monitor.exact import Bools, Floats, trailing_mean, two_threshold
from monitor.levels import rule
from monitor.records import Cause, Evidence, Family

LOOK_BACK = 50
"""Minutes between the two means of the neighbours' outputs: longer than the slowest usual zone needs to answer."""

FULL_PCT = 90.0
FAR_PCT = 8.0
"""A rise of the zone's own output so large that a couple would show in the neighbours for as long as it is new."""
SPREADS = 2.5
"""Neighbours have fallen where they did by so many times what the further zones moved in the same hour, from their
median absolute move: outputs wander by themselves. Own choice."""
BACK_MIN, BACK_C = 15, 3.0
FALLS_C_MIN = 0.3
"""A reading that still falls at this pace, mean of as many minutes, is steel that gets colder: heat lacks."""
ALIKE_SHARE, ALIKE_ZONES = 0.5, 2
"""A couple that slips makes no other zone heat more. Where so many of them rose by so much of what this one did in the
same hour, the line asks for it: less load, thinner melt, a colder hall. Zones at full heat can't rise, and those that
the load does not warm have no need to: the median of the others alone does not tell. Common practice, no source."""
WAS_COLD_C = 5.0
"""A zone so far under its set-point draws on its neighbours: the usual outer tolerance; common practice, no source."""

JUMPY_PCT = 40.0
"""An output that ranges over more than this in 15 min says nothing on the heat its zone needs."""


@dataclass(frozen=True)
class ThermocoupleLoose(ZoneMinutes):
    """A zone's couple reads low: the zone takes more heat and its neighbours less.

    An operator would say: "that couple has slipped out, the zone is really much hotter". The zone's output, mean
    of 15 min, stands above what it learned to need here by `more_pct` and a fifth and more, while the outputs of its
    heated neighbours have fallen by `less_pct` and more since an hour ago, all of them; speed, load, set-points and the
    further zones are as they were. Or its reading fell within a minute by more than the steel can at its duty, with no
    cooling called for, and 25 min later it is back at its set-point while the zone takes 2 % and a seventh more heat
    than before, its neighbours less (where it has no water: not more). The neighbours' temperatures tell nothing: they
    are controlled. Where its heater's current is logged and has fallen for its output, bands are missing and no couple
    is accused (`current_tells`).
    Look-alikes: part of the bands dead, cooling passing (neighbours stay), less load, mains or ambient (zones move
    alike: each is held against the median of the others, and one that rises with two others is not judged), a
    neighbour's set-point moved (not judged), couple shorted (its jump is told apart), water let on the wall (the
    neighbours are cooled too), on-off control (not judged, nor told by as a neighbour). Missing readings are not
    judged. Once found it stands (`standing_faults`). Memory: an hour of 10 signals a zone, and outputs as they were
    when a reading fell. Common practice, no source: a zone 10 C hotter warms its neighbours by 1 to 3 C (value from
    memory), which at 4 C per % is less than 1 % of their output each 10 C.
    """

    more_pct: float = setting(6, 2, 50, "% output above usual")
    less_pct: float = setting(1.2, 0.3, 30, "% output less than an hour ago, of every neighbour")
    settling_s: float = setting(2400, 0, 7200, "s after a change of speed, rate or set-point")
    on_s: float = setting(120, 10, 1800, "s")
    off_s: float = setting(600, 10, 3600, "s")

    name: ClassVar[str] = "thermocouple_loose"
    family: ClassVar[Family] = "sensor"
    title: ClassVar[str] = "couple loose, zone hotter than it reads"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "zone_output")
    sharpened_by: ClassVar[tuple[str, ...]] = ("reference", "melt_temperature", "zone_current")
    quantities: ClassVar[tuple[str, ...]] = ("net_torque",)
    zone_rows: ClassVar[tuple[str, ...]] = (*reference.DUTY_ROWS, "current", "pauses")
    line_rows: ClassVar[tuple[str, ...]] = (
        *reference.DUTY_LINE, *standing_faults.STANDING_LINE, "melt_c", "melt_expected",
    )  # fmt: skip
    past_minutes: ClassVar[int] = LOOK_BACK + 10
    said: ClassVar[tuple[str, ...]] = (
        "value", "wanted", "output", "expected", "beside_off", "beside", "melt", "fell", "draws",
    )  # fmt: skip

    def channel(self, subject: str) -> str:
        """The couple's temperature."""
        return channel_key("zone_temperature", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """On top of the 15 min the rule looks back."""
        return Timing(self.on_s, self.off_s, blind_s=standing_faults.UNSEEN_S)

    def begin(self, zones: int, ctx: Context) -> State:
        """Set-points the references belong to; zones whose neighbours have been seen to fall."""
        seen = {"loose": np.zeros(zones, bool), "slip": slipped_couple.start(zones), "drew": current_tells.start(zones)}
        return {**reference.start(zones), **seen, "standing": standing_faults.start(zones)}

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """Nothing to see while no zone takes more than usual."""
        if (reference.most_above(x, 15) >= self.more_pct / 1.5).any() or not standing_faults.idle(own["standing"]):
            return None
        line_calm = reference.calm_line(x, 15, self.settling_s)
        if not slipped_couple.idle(own["slip"]) or np.isfinite(slipped_couple.falls(x, line_calm)).any():
            return None
        calm = line_calm[None, :]
        level = rule(np.zeros((len(x.zones), x.m), bool), self._known(x), calm)
        drew = own["drew"]
        if np.isfinite(x.zone["current"]).any():
            drew = current_tells.share(drew, x, reference.duty(own, x, 15, self.settling_s)[1], ctx)[1]
        kept = {"loose": np.zeros(len(x.zones), bool), "slip": own["slip"], "drew": drew, "standing": own["standing"]}
        return {**reference.learned_at(own, x), **kept}, level

    @staticmethod
    def _known(x: Minutes) -> np.ndarray:
        return np.isfinite(x.now("temperature")) & np.isfinite(x.now("output")) & np.isfinite(x.now("expected"))

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """One row a zone."""
        after, duty = reference.duty(own, x, 15, self.settling_s)
        more = needs_more(x, duty, self.more_pct)
        seen, place, fall, kept = neighbours_fell(x, more, own["loose"], self.less_pct)
        value, wanted = x.now("temperature"), x.now("wanted")
        with np.errstate(invalid="ignore"):
            # At full heat and still below set it is heat that lacks, whatever the neighbours do.
            lacks_heat = (duty.mean >= FULL_PCT) & (value < wanted - 2.0)
            # A loop brings a couple that reads low back to its set-point; where it can't, heat lacks, not a reading.
            lacks_heat |= x.mean(x.zone["temperature"], BACK_MIN) - x.mean(x.zone["wanted"], BACK_MIN) < -BACK_C
            lacks_heat |= x.slope_c_min(x.zone["temperature"], BACK_MIN) <= -FALLS_C_MIN
            holds = seen & (value <= wanted + 3.0) & ~lacks_heat
        draws, drew = current_tells.share(own["drew"], x, duty, ctx)
        with np.errstate(invalid="ignore"):
            bands = draws <= current_tells.MISSING
        water = with_cooling(x.zones, ctx)[:, 0]
        slip, slid, slip_facts = slipped_couple.slips(own["slip"], x, duty.calm, water)
        alone = slid & ~holds
        level = rule((holds | slid) & ~bands, self._known(x), duty.calm[None, :])
        facts = {
            "value": value,
            "wanted": wanted,
            "output": duty.mean,
            "expected": np.where(alone, slip_facts["before"], duty.expected),
            "beside_off": np.where(alone, slip_facts["beside_off"], fall),
            "beside": np.where(alone, slip_facts["beside"], place),
            "fell": slip_facts["fell"],
            "draws": draws,
            "melt": x.line_now("melt_c") - x.line_now("melt_expected"),
        }
        off = np.where(alone, duty.mean - slip_facts["before"], duty.off)
        usual_here = duty.calm[None, :] & (x.now("set_age_s") >= self.settling_s)
        stood, judged = standing_faults.stand(
            own["standing"], x, Judged(level, off, facts), duty.mean, facts["expected"], usual_here,
            (self.on_s, self.off_s),
        )  # fmt: skip
        return {**after, "loose": kept, "slip": slip, "drew": drew, "standing": stood}, judged

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Heat up here, down beside."""
        zones, slipped = self.zones(ctx), facts["fell"] == facts["fell"]
        beside = zones[zones.index(subject) + int(facts["beside"])]
        melt = (f"melt temperature is {facts['melt']:.1f} °C up",) if facts["melt"] >= 1.0 else ()
        evidence = (
            Evidence("zone output", facts["output"], "%", facts["expected"], None, channel_key("zone_output", subject)),
            Evidence(
                f"output of zone {beside} since {'it fell' if slipped else 'an hour ago'}",
                facts["beside_off"],
                "%",
                None,
                None,
                channel_key("zone_output", beside),
            ),
            Evidence(f"zone {subject} reads", facts["value"], "C", facts["wanted"], None, self.channel(subject)),
        )
        fell = (f"it fell by {facts['fell']:.0f} °C within a minute, faster than steel can",) if slipped else ()
        less = facts["beside_off"] < 0
        cooler = (f"zone {beside} needs less heat",) if less else ()
        whole = facts["draws"] >= current_tells.WHOLE
        current = (f"its heater draws {100 * facts['draws']:.0f} % of what it drew for its output",) if whole else ()
        water = whole and ctx.line.zone_named(subject).cooled
        instead = (
            Cause("cooling of this zone passes", current, (), ("cooling_passing",))
            if water
            else Cause("part of the bands dead", (), (*current, "then the neighbours would not need less heat"))
        )
        more = f"takes {facts['output'] - facts['expected']:.0f} % more heat"
        said = (
            f"zone {subject} fell by {facts['fell']:.0f} °C within a minute, faster than steel can, and {more} since"
            if slipped
            else f"zone {subject} {more}" + (f" and zone {beside} {-facts['beside_off']:.1f} % less" if less else "")
        )
        return Explanation(
            f"{said}: its couple reads low, the zone is hotter than shown",
            2,
            "medium",
            evidence,
            (
                Cause("couple loose, pulled back or dirty in its well", (*fell, *cooler, *melt, *current)),
                instead,
            ),
            ("couple seated, spring and bayonet", "zone wall with a hand-held probe", "melt temperature"),
            f"{cautions.HEAT} {cautions.ELECTRICAL}",
        )


def neighbours_fell(x: Minutes, more: np.ndarray, before: np.ndarray, less_pct: float) -> tuple[np.ndarray, ...]:
    """Whether each zone's neighbours need less heat than before its own need rose, [zone, m].

    The mean of the last 10 min against that of 50 min before: what zones learn follows so small a change within half an
    hour. Every neighbour that is heated must have fallen by `less_pct` (one alone by half as much again), and
    together by a twelfth of the zone's own rise (one alone by an eighth) and by more than zones further away moved by
    themselves, while its own need rose and that of no two other zones by half as much. Once seen it stands while `more`
    does and, as long as the rise is new, they stay down by half of that: a zone that goes on rising without them has
    another trouble. before: [zone], the state.
    Returns it, the neighbour that fell most (-1, +1), its fall (0 or less), and the new state.
    """
    now = x.mean(x.zone["output"], 10)
    then = trailing_mean(*x.tail(x.ago_rows(x.zone["output"], LOOK_BACK), 10), 8)[0]
    heated = (then >= 2.0) & ~reference.on_off(x, x.zone["output"], 10)
    heated &= ~reference.on_off(x, x.ago_rows(x.zone["output"], LOOK_BACK), 10)
    # What a zone took while it was cold, and its neighbours beside it, is no measure of what they take.
    was_off = x.ago(x.zone["temperature"], LOOK_BACK) - x.ago(x.zone["wanted"], LOOK_BACK)
    was_cold = was_off < -WAS_COLD_C
    heated &= ~was_cold
    change = np.where(heated, now - then, np.nan)
    change = change - np.nan_to_num(others_median(change))
    rise = np.fmax(now - then, 0.0)
    left, right = left_right(change)
    known = np.isfinite(left).astype(float) + np.isfinite(right)
    with np.errstate(invalid="ignore"):
        least = np.where(known == 2, less_pct, 1.5 * less_pct)
        fell = (known > 0) & ~(left > -least) & ~(right > -least)
        total = -(np.nan_to_num(left) + np.nan_to_num(right)) / np.fmax(known, 1.0)
        due = np.where(known == 2, rise / 12.0, rise / 8.0)
        fell &= (total >= due) & ~(total < SPREADS * _wander(change, more))
        risen = np.nan_to_num(now - then)
        half = ALIKE_SHARE * np.fmax(rise, less_pct)
        alike = np.count_nonzero(risen[None] >= half[:, None], axis=1) - (risen >= half)
        fell &= (alike < ALIKE_ZONES) & (rise >= less_pct) & ~was_cold
        alone = (rise >= FAR_PCT) & (total < 0.5 * due)
    seen, after = two_threshold(before, fell & more, ~more | alone)
    most = np.fmin(left, right)
    place = np.where(np.nan_to_num(left) <= np.nan_to_num(right), -1.0, 1.0)
    place[-1:], place[:1] = -1.0, 1.0  # the first and the last zone have one neighbour, heated or not
    return seen, place, np.nan_to_num(most), after


def _wander(change: Floats, more: Bools) -> Floats:
    """How far the zones beyond a zone's neighbours moved by themselves, median of their moves as a standard deviation,
    % [zone, m]; NaN where fewer than three are known. more: zones it is asked of."""
    out = np.full(change.shape, np.nan)
    for zone in np.flatnonzero(more.any(axis=1)).tolist():
        further = np.abs(np.delete(change, [i for i in (zone - 1, zone, zone + 1) if 0 <= i < len(change)], axis=0))
        enough = np.count_nonzero(np.isfinite(further), axis=0) >= 3
        out[zone, enough] = 1.4826 * np.nanmedian(further[:, enough], axis=0)
    return out


def needs_more(x: Minutes, duty: reference.Duty, more_pct: float) -> np.ndarray:
    """Zones that take more than they learned to need, each against the median of the others, [zone, m].

    Not while the output jumps from end to end: autotune, or on-off control.
    """
    low, high = x.extremes(x.zone["output"], 15)
    off = np.where(duty.valid, duty.off, np.nan)
    with np.errstate(invalid="ignore"):
        common = np.nan_to_num(others_median(off))
        more = off - common >= np.fmax(np.fmax(more_pct, duty.slack), 0.2 * np.abs(duty.expected))
        more &= (np.abs(common) <= 0.4 * np.abs(off)) & (high - low <= JUMPY_PCT)
    return more & ~reference.on_off(x, x.zone["output"], 15)
