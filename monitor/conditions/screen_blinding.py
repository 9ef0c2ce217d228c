"""The screen is filling up: pressure ahead of it creeps up at the same rate and melt temperature."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import pressure_creep, pressure_path
from monitor.conditions import wall_off
from monitor.conditions.machine_load import astray
from monitor.conditions.window_regained import regained
from monitor.contract import Context, Explanation, Judged, State, setting
from monitor.exact import Floats, two_threshold
from monitor.fixed_base import long_steady
from monitor.levels import rule
from monitor.physics.melt_pressure import log_without_rate_and_temperature
from monitor.records import Cause, Evidence, Family
from monitor.rule_defaults import RuleDefaults
from monitor.view import CoarseView

FLUSHED_SHARE = 0.12
"""Rise as a share of the pressure ahead that no changer leaves before it flushes itself; common practice, no source."""

EARLIER_SHARE = 0.3
"""Part of the rise that has to have been there a quarter of an hour ago: a screen fills, it does not step."""

STEP_SHARE, GOES_ON_SHARE = 2 / 3, 0.15
"""Of the rise: what came in one quarter of an hour and was over then is a step if it is more than the first (at one
pace all of it came within 22 minutes). A rise that goes on at one pace makes three eighths of itself in the newer half
of the time since it had made a quarter of it; under the second it has come to rest. Common practice, no source."""

STAYS_FULL = 3.0
"""Once told, what has filled by so many times the least rise is no cleaner for filling no further: it is over when it
is changed, or has come down. Common practice, no source."""

LEAST_BAR = 5.0
"""Below this a pressure is for the most part the hot zero of its sensor, 1 to 3 bar and moving: no creep is told from
it. Common practice, no source."""

SENSORS_SHARE = 0.02
"""Of the pressure ahead: half a percent of the range each, at a third of it (value from memory), and their noise."""

SHOWN_SHARE = 0.5
"""Of the least rise: what the pressure itself has to show. The rest may be the melt probe's, which the wall beside it
warms and its own fault moves; a pressure that stands while only the probe rises is no evidence of holes."""

ASTRAY_SHARE = 0.1
"""Of the feed, too much or too little of its ingredients in sum: another mixture has another viscosity (a tenth less
polymer raises the share of a filler of 25 % to 27.2 %, some 4 % in pressure), and no screen can be told from it."""


def creep_rows(view: CoarseView, bar: Floats, ahead: Floats, n: float, energy: float, ctx: Context) -> Floats:
    """What `pressure_creep` takes, [5, n]. Where no rate is logged, screw speed stands for it on a flood-fed line; what
    a melt pump presses through the screen behind it is as much as that turns."""
    rate = view.quantity("total_feed")
    if not (ctx.has("feeder_rate") or ctx.has("line_rate")):
        rate = np.ones(view.n) if ctx.starve_fed else view.get("screw_speed")
    if ctx.has("melt_pump_speed") and pressure_path.screen_behind_pump(ctx):
        rate = view.get("melt_pump_speed")
    probes = ctx.subjects_of("melt_temperature")
    melt = view.get(channel_key("melt_temperature", probes[0])) if probes else np.full(view.n, 200.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        y = log_without_rate_and_temperature(
            pressure_bar=bar, rate=rate, melt_c=melt, flow_exponent=n, activation_energy_kj_mol=energy
        )
        load = np.log(np.where(view.quantity("net_torque") > 0, view.quantity("net_torque"), np.nan))
        probe = log_without_rate_and_temperature(
            pressure_bar=1.0, rate=1.0, melt_c=melt, flow_exponent=n, activation_energy_kj_mol=energy
        )
    return np.array([y, bar, ahead, load, probe])


LOOSE = 10.0
"""Where the latest hour is more than so many times the earliest, the latest is no forecast worth telling. Common
practice, no source."""

REACHED_H = 0.05
"""Less is told as reached: it would read 'in 0.0 h'."""


@dataclass(frozen=True)
class ScreenBlinding(RuleDefaults):
    """Pressure ahead of the screen creeps up, corrected for rate (P ~ Q^n) and melt temperature.

    An operator would say: "the screen is filling, when must I change it?" A point every five minutes from steady
    running, half an hour after a start and ten minutes after a change; the base is the lowest level since the
    screen was new. Said when the rise is over `least_rise_pct` with a Theil-Sen slope whose interval, widened for
    autocorrelation, lies above zero, and the limit comes within `horizon_h`, from 12 points; from 6 where it comes
    within a quarter of `soon_h`; where no limit is known, at twice that rise. Filling within minutes is said from
    four points that climb one after another by twice that rise, or six by that rise, in no single step, once it is
    past what a changer that flushes itself does or the limit is a quarter of `soon_h` off. The limit is the
    recipe's inner one, else four fifths of the machine's. Time left is told with its interval, the wider of a
    linear and an exponential run (cake filtration and intermediate blocking, Hermans & Bredee 1936, value from
    memory). Pressure before and after the screen: the drop is used, and it is the screen; but a filling screen
    cannot raise what is behind it: a thicker melt raises that and the drop by one share, which is taken out of
    rise, pace and pressure (where the die plugs, more than its due). One sensor only: screen or die. Look-alikes: a
    step up (nothing of it was there a quarter of an hour ago, or two thirds of it came in one and little since: silent;
    a rise that has come to rest is over), planned rate change (points joined), slide after a start, thicker or
    colder melt (net torque, or the pressure behind, rises as much: silent; a die or adapter that is cold explains it),
    feeders off their set-points (another mixture: no points), a new lot (a step, no slope), a changer that flushes
    itself (after two teeth of its saw-tooth silent up to their height), screen change (a step down starts anew).
    Missing readings: a point needs 60 % of its cells. Memory: 64 points a pressure. Numbers are common practice, no
    source.
    """

    least_rise_pct: float = setting(6, 1, 50, "% over the clean screen")
    horizon_h: float = setting(12, 1, 200, "h to the limit")
    soon_h: float = setting(1, 0.1, 12, "h to the limit")
    limit_bar: float = setting(0, 0, 1000, "bar at which it is changed; 0 = from recipe or machine")
    new_screen_pct: float = setting(5, 2, 50, "% step down that is a new screen")
    flow_exponent: float = setting(0.35, 0.15, 1.0, "power of the rate")
    activation_kj_mol: float = setting(20, 0, 80, "kJ/mol at constant shear rate")
    torque_share: float = setting(0.8, 0.2, 3, "of the rise: torque that rises so much speaks of the melt")
    on_s: float = setting(10, 10, 3600, "s")
    off_s: float = setting(600, 10, 7200, "s")

    name: ClassVar[str] = "screen_blinding"
    family: ClassVar[Family] = "pressure"
    title: ClassVar[str] = "screen filling up"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("melt_pressure",)
    sharpened_by: ClassVar[tuple[str, ...]] = ("melt_temperature", "feeder_rate|line_rate", "torque|motor_current")
    quantities: ClassVar[tuple[str, ...]] = ("total_feed", "net_torque")
    slides_s: ClassVar[float] = 1800.0

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The pressure ahead of the screen."""
        return tuple(pressure_path.groups(ctx, *self._at(ctx)))

    def _at(self, ctx: Context) -> tuple[str, ...]:
        """Where in the stream."""
        return (pressure_path.ahead_of_screen(ctx),)

    def channel(self, subject: str) -> str:
        """The pressure."""
        return channel_key("melt_pressure", subject)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """No point."""
        return {
            "creep": {subject: pressure_creep.start() for subject in subjects},
            "on": np.zeros(len(subjects), bool),
        }

    def _melt_witness(self, ctx: Context) -> tuple[str, ...]:
        """Sensors behind the screen that only melt and die can raise; a pump's control holds its suction."""
        return next(iter(pressure_path.groups(ctx, "after_screen").values()), ())

    def silent_for(self, state: State, index: int, ctx: Context) -> int:
        """Until the next point is whole, where the points before say nothing; see `resting`."""
        width = ctx.cells(pressure_creep.POINT_S)
        return 1 if state["on"].any() else width - index % width

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Level 1 creeping toward the limit, 2 there within `soon_h`."""
        creep, facts = {}, {name: np.full((len(subjects), view.n), np.nan) for name in pressure_creep.FACTS}
        calm, width = long_steady(view, started_s=self.slides_s), ctx.cells(pressure_creep.POINT_S)
        with np.errstate(invalid="ignore"):
            calm &= ~(astray(view, ctx) > ASTRAY_SHARE)
        rules = pressure_creep.Rules(-math.log(1 - self.new_screen_pct / 100), math.log(1 + self.least_rise_pct / 100))
        seen, witness = np.zeros((len(subjects), view.n), bool), self._melt_witness(ctx)
        for row, subject in enumerate(subjects):
            ahead, drop = self._pressures(view, subject, ctx)
            rows = creep_rows(view, drop, ahead, self.flow_exponent, self.activation_kj_mol, ctx)
            if witness:
                bar = pressure_path.pressure(view, witness)
                rows[3] = creep_rows(view, bar, bar, self.flow_exponent, self.activation_kj_mol, ctx)[0]
            seen[row] = np.isfinite(drop)
            with np.errstate(invalid="ignore"):
                rows[:, ahead < LEAST_BAR] = np.nan
            creep[subject], made = pressure_creep.advance(
                state["creep"][subject], rows, calm, view.ages["unchanged"], view.t0 // view.step, width, rules
            )
            for name, values in made.items():
                facts[name][row] = values
        facts |= _screens_own(facts, bool(witness))
        facts |= self._time_left(facts, subjects, ctx)
        facts["wall_c"] = np.broadcast_to(-wall_off.off_c(view, ctx, -1), seen.shape)
        shares = np.array([self._load_share(subject, ctx) for subject in subjects]).reshape(-1, 1)
        facts["load_share"] = np.broadcast_to(shares, seen.shape)
        speaks, urgent, silent = self._speaks(facts)
        for row, subject in enumerate(subjects):
            if not self._behind(ctx):
                was = facts["pressure"][row] * np.exp(-facts["rise"][row])
                speaks[row] &= ~regained(subject, was, facts["pressure"][row], ctx)
        on, on_state = two_threshold(state["on"], speaks, silent)
        level = rule(on, seen | ~view.in_phase("steady"), np.ones(on.shape, bool))
        level[(level == 1) & urgent] = 2
        return {"creep": creep, "on": on_state}, Judged(level, facts["rise"], facts)

    def _load_share(self, subject: str, ctx: Context) -> float:
        """Of the rise: net torque that rises so much speaks of the melt."""
        return self.torque_share

    def _pressures(self, view: CoarseView, subject: str, ctx: Context) -> tuple[Floats, Floats]:
        """Pressure ahead, and the drop over the screen where the pressure after it is logged."""
        ahead = pressure_path.pressure(view, pressure_path.groups(ctx, *self._at(ctx))[subject])
        behind = self._behind(ctx)
        return (ahead, ahead - pressure_path.pressure(view, behind)) if behind else (ahead, ahead)

    @staticmethod
    def _behind(ctx: Context) -> tuple[str, ...]:
        """Sensors of the pressure after the screen; none where it is not logged."""
        places = ("after_screen",) if pressure_path.screen_behind_pump(ctx) else ("after_screen", "pump_suction")
        return next(iter(pressure_path.groups(ctx, *places).values()), ())

    def _time_left(self, facts: dict[str, Floats], subjects: tuple[str, ...], ctx: Context) -> dict[str, Floats]:
        """Hours to the limit: the middle of a linear and an exponential run, the earliest and the latest of both."""
        limit = np.array([self.limit(subject, ctx)[0] for subject in subjects]).reshape(-1, 1)
        room = limit - facts["pressure"]
        with np.errstate(invalid="ignore", divide="ignore"):
            way = np.log1p(np.fmax(room, 0) / facts["drop_bar"])
            linear = [np.fmax(room, 0) / np.where(facts[k] > 0, facts[k], 0.0) for k in ("bar_h", "bar_high_h")]
            growing = [way / np.where(facts[k] > 0, facts[k], 0.0) for k in ("slope_h", "slope_high_h")]
            last = np.fmax(room, 0) / np.where(facts["bar_low_h"] > 0, facts["bar_low_h"], 0.0)
        return {
            "limit": np.broadcast_to(limit, room.shape),
            "left_h": (linear[0] + growing[0]) / 2,
            "from_h": np.fmin(linear[1], growing[1]),
            "to_h": last,
        }

    def _far(self, f: dict[str, Floats]) -> np.ndarray:
        """Further than a changer goes that flushes itself, or soon at the limit: a climb of minutes is said then only.

        Those rise by a tenth of the pressure ahead, a third of the drop; common practice, no source.
        """
        with np.errstate(invalid="ignore"):
            of_pressure = (f["drop_bar"] - f["base_bar"]) / f["pressure"]
            return (of_pressure >= FLUSHED_SHARE) | (f["left_h"] <= self.soon_h / 4)

    def _speaks(self, f: dict[str, Floats]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        least = math.log(1 + self.least_rise_pct / 100)
        with np.errstate(invalid="ignore"):
            climbs = (f["climbs"] > 0) & self._far(f) & ~(f["melt_rise"] > f["rise"])
            rising = (f["rise"] >= least) & (f["slope_low_h"] > 0) & (f["bar_low_h"] > 0)
            # A drop is the difference of two large pressures: a small part of them is their sensors'.
            rising &= ~(f["drop_bar"] - f["base_bar"] < SENSORS_SHARE * f["pressure"])
            rising &= climbs | (f["earlier"] >= EARLIER_SHARE * f["rise"])
            # With a sensor behind the screen the melt's part is taken out already.
            thicker = np.isnan(f["melt_rise"]) & (f["torque_rise"] >= f["load_share"] * f["rise"])
            rising &= ~thicker & ~(f["rise"] < 1.2 * f["tooth"])
            rising &= self._goes_on(f) & (climbs | ~self._stepped(f)) & ~self._of_the_probe(f)
            in_time = np.where(np.isfinite(f["limit"]), f["left_h"] <= self.horizon_h, f["rise"] >= 2 * least)
            urgent = rising & (f["left_h"] <= self.soon_h)
            speaks = rising & (climbs | (in_time & ((f["points"] >= 12) | (f["left_h"] <= self.soon_h / 4))))
            rests = (f["slope_high_h"] <= 0) | ~self._goes_on(f)
            silent = ~(f["rise"] >= least / 2) | (rests & ~(f["rise"] >= STAYS_FULL * least))
            silent |= ~(f["rise"] >= least) & (f["lately"] <= 0)
        return speaks, urgent, silent & ~speaks

    @staticmethod
    def _goes_on(f: dict[str, Floats]) -> np.ndarray:
        """Where the rise has not come to rest."""
        return ~(f["gain"] < GOES_ON_SHARE * f["rise"])

    def _of_the_probe(self, f: dict[str, Floats]) -> np.ndarray:
        """Where the melt temperature makes the rise and the pressure does not show it; a sensor behind the screen
        takes the melt temperature out."""
        least = SHOWN_SHARE * math.log(1 + self.least_rise_pct / 100)
        return np.isnan(f["melt_rise"]) & (f["rise"] - f["probe_rise"] < least)

    def _stepped(self, f: dict[str, Floats]) -> np.ndarray:
        """Where most of the rise was one step, and what is left of it is none that would be told."""
        return (f["step"] >= STEP_SHARE * f["rise"]) & (f["rise"] - f["step"] < math.log(1 + self.least_rise_pct / 100))

    def limit(self, subject: str, ctx: Context) -> tuple[float, str]:
        """At which pressure it is to be changed, and whose limit that is."""
        if self.limit_bar > 0:
            return self.limit_bar, "the limit set for it"
        window = ctx.recipe.window_of(channel_key("melt_pressure", subject)) if ctx.recipe else None
        if window is not None and (window.high or window.high_outer):
            return float(window.high or window.high_outer or math.nan), "the recipe's limit"
        machine = ctx.line.limits.melt_pressure_bar
        return (0.8 * machine, f"four fifths of the machine's limit of {machine:.0f}") if machine else (math.nan, "")

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """How far, how fast, how long."""
        drop = bool(self._behind(ctx))
        what = f"pressure drop over the screen at {subject}" if drop else f"melt pressure {subject} ahead of the screen"
        rise = 100 * math.expm1(facts["rise"]) if facts["rise"] == facts["rise"] else math.nan
        melt = 100 * math.expm1(facts["melt_rise"])
        more = f", and {melt:.0f} % with the melt, as behind it" if melt >= self.least_rise_pct / 2 else ""
        summary = f"{what} up {rise:.0f} % over the lowest since its change{more}{self._left(subject, facts, ctx)}"
        return Explanation(
            summary,
            2 if level == 2 else 3,
            "high" if drop else "medium",
            self._evidence(subject, facts),
            self._causes(facts, drop, ctx),
            (
                "screen age, kilograms since its change" if drop else "screen age; without a sensor after it, the die",
                "have screens and a changer crew ready",
                "raw-material lots and regrind, if it fills faster than usual",
            ),
            # Where a sensor behind the screen speaks of the melt, its part is taken out already.
            moved={"pressure": facts["rise"], "wall_c": facts["wall_c"]}
            | ({} if facts["melt_rise"] == facts["melt_rise"] else {"torque": facts["torque_rise"]}),
        )

    def _left(self, subject: str, facts: dict[str, float], ctx: Context) -> str:
        whose = self.limit(subject, ctx)[1]
        if not whose or not facts["left_h"] <= 2 * self.horizon_h:
            return ""
        if facts["left_h"] < REACHED_H:
            return f"; {facts['limit']:.0f} bar, {whose}, is reached"
        between = _between(facts["from_h"], math.inf if _loose(facts) else facts["to_h"])
        return f"; {facts['limit']:.0f} bar, {whose}, in {facts['left_h']:.1f} h{between} if it goes on so"

    def _evidence(self, subject: str, facts: dict[str, float]) -> tuple[Evidence, ...]:
        rose = 100 * math.expm1(facts["torque_rise"])
        meanwhile = (
            Evidence("pressure behind the screen meanwhile, taken out", rose, "%")
            if facts["melt_rise"] == facts["melt_rise"]
            else Evidence("net torque meanwhile", rose, "%", None, None, "net_torque")
        )
        rows = (
            Evidence(
                "corrected to one rate and melt temperature", facts["drop_bar"], "bar", facts["base_bar"], None,
                self.channel(subject),
            ),
            Evidence("rising", facts["bar_h"], "bar/h"),
            meanwhile,
            Evidence("time to the limit", facts["left_h"], "h"),
            Evidence("at the earliest", facts["from_h"], "h"),
            Evidence("at the latest", math.nan if _loose(facts) else facts["to_h"], "h"),
        )  # fmt: skip
        return tuple(row for row in rows if row.value is not None)

    def _causes(self, facts: dict[str, float], drop: bool, ctx: Context) -> tuple[Cause, ...]:
        share = facts["torque_rise"] / facts["rise"] if facts["rise"] else math.nan
        lags, melts = share < 0.4, facts["melt_rise"] == facts["melt_rise"]
        what = "pressure behind the screen" if melts else "net torque"
        steady = (f"{what} rose far less than {'the drop' if melts else 'pressure'}",) if lags else ()
        along = (f"{what} rose {100 * share:.0f} % as much",) if share >= 0.4 else ()
        screen = Cause("screen filling with gels, char or dirt", steady, along)
        die = Cause("die plugging", steady, ("the drop is over the screen alone",) if drop else ())
        melt = Cause("melt thicker: another lot, colder than the probe shows", along, steady)
        zero = Cause("zero of the sensor drifting: the next stop shows it", (), (), ("pressure_zero_drift",))
        first = (screen, melt) if drop else (screen, die, melt) if share != share or lags else (screen, melt, die)
        return (*first, zero)


def _screens_own(f: dict[str, Floats], witness: bool) -> dict[str, Floats]:
    """The facts without what the melt does, which raises the pressure behind the screen and the drop by one share.

    Drop and die have the same power of the rate and the same viscosity in them: the drop over the pressure behind is
    the screen's resistance over the die's. melt_rise: that share as a logarithm, NaN where nothing is logged behind.
    """
    if not witness:
        return {"melt_rise": np.full(f["rise"].shape, np.nan)}
    melt = np.fmax(np.nan_to_num(f["torque_rise"]), 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        own = f["rise"] - melt
        share = np.where(f["rise"] > 0, np.clip(own / f["rise"], 0.0, 1.0), 1.0)
        less = np.exp(-melt)
        paces = ("slope_h", "slope_low_h", "slope_high_h", "bar_h", "bar_low_h", "bar_high_h")
        return {
            **{name: f[name] * np.where(f[name] > 0, share, 1.0) for name in (*paces, "step", "gain", "lately")},
            "rise": own,
            "drop_bar": f["drop_bar"] * less,
            "pressure": f["pressure"] * less,
            "melt_rise": melt,
        }


def _loose(facts: dict[str, float]) -> bool:
    return facts["to_h"] > LOOSE * facts["from_h"]


def _between(first_h: float, last_h: float) -> str:
    """When at the earliest and at the latest, as words; an end that nothing bounds is left out."""
    if math.isfinite(first_h):
        return f" ({first_h:.1f} to {last_h:.1f} h)" if math.isfinite(last_h) else f" (not before {first_h:.1f} h)"
    return f" ({last_h:.1f} h at the latest)" if math.isfinite(last_h) else ""
