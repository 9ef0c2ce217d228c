"""What the feeder conditions share: which cells of a feeder are fit to be judged, and the frame they are built in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, Literal

import numpy as np

from monitor.contract import Context, State, Timing
from monitor.exact import Bools, Floats, blank, count_true, last_known, run_length, with_past
from monitor.quantities import asked_rate, feed
from monitor.quantities.load import load_words
from monitor.quantities.windows import window_start, window_sums
from monitor.records import Cause, Evidence, Family
from monitor.view import CoarseView

ROUNDED_CELLS = 12
ROUNDING = 0.5
"""Rates logged as whole numbers may be off by so much and mean nothing by it, kg/h."""

SCATTER_S = 1800.0

RESIDENCE_S = 90.0
"""Mean residence time where the line's geometry does not say; common practice, no source."""


UNTIL_KNOWN_AGAIN_S = 600.0
"""A refill of a large hopper, and the mean that has to fill again after it, leave nothing to judge for so long: what
was found before is not over with the refill. Common practice, no source."""


class FeederRule:
    """Frame of a condition that watches feeders one by one on the 10 s grid. charted: role or quantity to chart."""

    blind_s: ClassVar[float] = 120.0
    again_s: ClassVar[float] = 0.0
    charted: ClassVar[str] = "feeder_rate"
    family: ClassVar[Family] = "feeder"
    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("feeder_rate",)
    sharpened_by: ClassVar[tuple[str, ...]] = ()
    quantities: ClassVar[tuple[str, ...]] = ()
    on_s: float
    off_s: float

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Feeders with everything it needs, in known units."""
        return feeders_with(ctx, self.needs)

    def channel(self, subject: str) -> str:
        """What it is about."""
        return f"{self.charted}:{subject}"

    def timing(self, subject: str, ctx: Context) -> Timing:
        """The delays of the settings."""
        return Timing(self.on_s, self.off_s, self.blind_s, again_s=self.again_s)


ASKED_STEP, FOLLOWS_S = 0.1, 60.0
"""A loss-in-weight loop takes 30 to 60 s to follow a set-point that steps by so much; common practice, no source."""


def feeders_with(ctx: Context, needs: Sequence[str]) -> tuple[str, ...]:
    """Feeders with all of these roles in known units; 'a|b' asks for one of them. Roles of the line count for all."""
    relative = ctx.line.relative_channels
    feeders = [feeder.name for feeder in ctx.line.feeder]
    logged = {(sensor.role, sensor.at) for sensor in ctx.line.sensor if sensor.key not in relative}

    def has(need: str, feeder: str) -> bool:
        return any((role, feeder) in logged or (role, "") in logged for role in need.split("|"))

    return tuple(name for name in feeders if all(has(need, name) for need in needs))


def rows_of(view: CoarseView, quantity: str, subjects: Sequence[str]) -> Floats:
    """A quantity of several feeders, [subject, n]; NaN where the line cannot give it."""
    if not subjects:
        return np.zeros((0, view.n))
    return np.array([view.quantity(f"{quantity}:{subject}") for subject in subjects])


def refilling(view: CoarseView, subjects: Sequence[str]) -> Bools:
    """Cells in which a feeder is being refilled or was within the last 30 s, by mark or by weight, [subject, n]."""
    return view.once(("refilling", tuple(subjects)), lambda: rows_of(view, "refilling", subjects) > 0)


def filled_by_hand(view: CoarseView, subjects: Sequence[str]) -> Bools:
    """Cells in which a feeder is filled slowly, as by hand, or was within five minutes, [subject, n]."""
    with np.errstate(invalid="ignore"):
        return rows_of(view, "refilling", subjects) > 1


def in_use(view: CoarseView, wanted: Floats) -> Bools:
    """Cells in which a feeder is wanted and the line is past the settling of a start or change, [subject, n]."""
    return view.in_phase("steady") & (wanted > 0.0)


FALLING_SHARE, FALLEN_SHARE = 0.85, 0.5
"""A feeder below this share of its set-point, or that share of its recipe rate where no set-point is logged, is
falling; when all are, none of them has failed by itself."""


def falling_together(view: CoarseView, ctx: Context, untold: float = FALLEN_SHARE) -> Bools:
    """Cells in which all feeders fall together: switched off before a stop, or trimmed by a limiter, [n].

    untold: share of its recipe rate below which a feeder without a logged set-point is falling.
    """
    feeders = ctx.subjects_of("feeder_rate")
    return view.once(
        ("falling together", untold),
        lambda: feed.feed_off_together(view, feeders, ctx, FALLING_SHARE, untold),
    )


POWDERS = ("loss-in-weight", "volumetric")


def falls_with_neighbours(rate: Floats, wanted: Floats, subjects: Sequence[str], ctx: Context, below: float) -> Floats:
    """1 where every feeder that feeds into the same chute is below this share of what is wanted, else 0, [subject, n].

    NaN for a feeder that shares its chute with none, and for liquids, which are pumped. What several feeders do at
    once is done to them by the chute they stand over.
    """
    out = np.full(rate.shape, np.nan)
    places: dict[tuple[str, bool], list[int]] = {}
    for row, name in enumerate(subjects):
        feeder = ctx.line.feeder_named(name)
        if feeder.kind in POWDERS:
            places.setdefault((feeder.at, feeder.side), []).append(row)
    for rows in places.values():
        # A flood-fed throat always stands full; what is weighed in follows what the screw takes.
        if len(rows) > 1 and ctx.starve_fed:
            with np.errstate(invalid="ignore"):
                holds = (rate[rows] >= below * wanted[rows]) & (wanted[rows] > 0)
            out[rows] = ~holds.any(axis=0)
    return out


def shared_chute_cause(falls_with: float) -> tuple[Cause, ...]:
    """The likeliest cause where all feeders over one chute lose rate together; none where they do not."""
    if falls_with != 1:
        return ()
    return (
        Cause(
            "chute or throat stands full: path blocked or intake flooded",
            ("all feeders into the same throat lose rate together",),
            (),
            ("starved", "flooded"),
        ),
    )


def liquid_causes(off: float, flat_out: bool) -> tuple[Cause, ...]:
    """Why a pump brings less (off below zero) or more than it is told; a liquid neither bridges nor has a bulk density.

    flat_out: its drive is near its end, or it brings less a stroke: something is in the way.
    """
    if off > 0:
        return (
            Cause("pump stroke or its calibration changed"),
            Cause("controller tuning or volumetric mode", (), (), ("volumetric_too_long",)),
            Cause("flow meter or scale reads wrong", (), (), ("scale_wrong",)),
        )
    plugged = Cause("nozzle or line plugging, liquid colder and thicker", (), (), ("liquid_nozzle_plugged",))
    sucks = Cause("tank low or filter blocked: the pump sucks air", (), (), ("liquid_prime_lost",))
    worn = Cause("pump worn, or a valve in it leaking")
    mode = Cause("controller tuning or volumetric mode", (), (), ("volumetric_too_long",))
    return (plugged, sucks, worn, mode) if flat_out else (mode, plugged, sucks, worn)


def wanted_rates(view: CoarseView, subjects: Sequence[str], ctx: Context) -> Floats:
    """Set-point of each feeder, else its recipe share of the rate that is asked for, kg/h, [subject, n]."""
    return view.once(("wanted rates", tuple(subjects)), lambda: _wanted_rates(view, subjects, ctx))


def _wanted_rates(view: CoarseView, subjects: Sequence[str], ctx: Context) -> Floats:
    wanted = feed.wanted_rates(view, subjects, ctx)
    rate = ctx.recipe_rate_kg_h
    if not rate or not asked_rate.possible(ctx):
        return wanted
    asked: Floats = wanted * (view.quantity("total_setpoint") / rate)
    return asked


def usable_feeders(ctx: Context) -> tuple[str, ...]:
    """Feeders with a rate in a known unit."""
    return feeders_with(ctx, ("feeder_rate",))


def rounding_start(subjects: Sequence[str]) -> Floats:
    """State of `rounding`."""
    return blank(len(subjects), ROUNDED_CELLS - 1)


def rounding(past: Floats, view: CoarseView, subjects: Sequence[str]) -> tuple[Floats, Floats]:
    """How far a reported rate may be off by rounding alone, kg/h: half a unit while only whole numbers come."""
    raw = view.rows("feeder_rate", subjects, raw=True)
    joined, after = with_past(past, raw)
    with np.errstate(invalid="ignore"):
        other = np.isfinite(joined) & (joined != np.round(joined))
    return np.where(count_true(other, past.shape[1] + 1) > 0, 0.0, ROUNDING), after


def scatter_start(subjects: Sequence[str], ctx: Context, mean_s: float = 60.0, over_s: float = SCATTER_S) -> State:
    """State of `minute_scatter`, of means of `mean_s`."""
    count = len(subjects)
    return {"past": blank(count, ctx.cells(mean_s)), "squares": window_start(count, ctx.cells(over_s))}


def minute_scatter(state: State, minute: Floats, ctx: Context) -> tuple[Floats, State]:
    """Standard deviation of means of a minute, from one minute to the next over half an hour, in their unit.

    Or of longer means over longer, as the state was started: whatever rule holds a mean against a limit is to know the
    scatter of that very mean, for that of a feeder's readings is not independent from minute to minute.
    From differences, so that a step or a drift is not taken for scatter. 0 while less than ten minutes are known.
    """
    joined, past = with_past(state["past"], minute)
    change = minute - joined[:, : minute.shape[1]]
    (total,), (count,), squares = window_sums(state["squares"], change * change, (state["squares"]["sum"].shape[1],))
    known = count >= ctx.cells(600)
    return np.where(known, np.sqrt(np.fmax(total, 0.0) / (2 * np.where(known, count, 1.0))), 0.0), {
        "past": past,
        "squares": squares,
    }


def residence_s(view: CoarseView) -> Floats:
    """Mean residence time, a usual one where the line's geometry does not say, [n]."""
    known = view.quantity("residence_time")
    return np.where(np.isfinite(known), known, RESIDENCE_S)


def moved(view: CoarseView, name: str, value: Floats) -> tuple[Floats, Floats]:
    """ln of a learned quantity over what it should be, and its usual relative scatter, both [n]."""
    expected, scatter = view.expectation(name)
    with np.errstate(divide="ignore", invalid="ignore"):
        fit = (expected > 0) & (value > 0)
        return np.where(fit, np.log(np.where(fit, value / expected, 1.0)), np.nan), np.where(fit, scatter / expected, 0)


def machine(view: CoarseView, ctx: Context) -> tuple[Floats, Floats, Floats, Floats]:
    """ln torque and ln pressure before the die against expected, each with its scatter, [n]."""
    return view.once("feeders' machine", lambda: _machine(view, ctx))


def _machine(view: CoarseView, ctx: Context) -> tuple[Floats, Floats, Floats, Floats]:
    torque, torque_scatter = moved(view, "net_torque", view.quantity("net_torque"))
    pressure, pressure_scatter, height = (np.full(view.n, np.nan) for _ in range(3))
    for sensor in ctx.subjects_of("melt_pressure"):
        key = f"melt_pressure:{sensor}"
        expected, _ = view.expectation(key)
        its, scatter = moved(view, key, view.get(key))
        higher = np.isfinite(its) & ~(height >= expected)
        pressure, pressure_scatter = np.where(higher, its, pressure), np.where(higher, scatter, pressure_scatter)
        height = np.where(higher, expected, height)
    return torque, torque_scatter, pressure, pressure_scatter


def machine_evidence(facts: dict[str, float], ctx: Context) -> list[Evidence]:
    """Torque and pressure against expected, in percent, from facts 'torque' and 'pressure' (natural logarithms)."""
    out = []
    for what, key, channel in ((load_words(ctx)[0], "torque", "net_torque"), ("melt pressure", "pressure", "")):
        if facts[key] == facts[key]:
            percent = 100 * np.expm1(facts[key])
            out.append(Evidence(f"{what} against expected", float(percent), "%", 0.0, None, channel))
    return out


def torque_effects(subjects: Sequence[str], ctx: Context) -> Floats:
    """1 where more of an ingredient raises torque, -1 where it lowers it, 0 where it does neither, [subject, 1]."""
    sign = {"raises": 1.0, "lowers": -1.0, "none": 0.0}
    return np.array([sign[ctx.line.feeder_named(name).effect_on_torque] for name in subjects]).reshape(-1, 1)


def what_losing_it_does(subject: str, ctx: Context) -> str:
    """What too little of this ingredient does to the machine, in words."""
    effect = ctx.line.feeder_named(subject).effect_on_torque
    return {
        "raises": "torque and pressure fall with it",
        "lowers": "without this oil, plasticiser or lubricant torque rises",
        "none": "too small a part to be seen in torque: only composition moves",
    }[effect]


def what_more_of_it_does(subject: str, ctx: Context) -> str:
    """What too much of this ingredient does to the machine, in words."""
    return {
        "raises": "torque and pressure rise with it",
        "lowers": "too much oil, plasticiser or lubricant: torque and pressure fall, then the throat floods",
        "none": "too small a part to be seen in torque: only composition moves",
    }[ctx.line.feeder_named(subject).effect_on_torque]


def recipe_shares(subjects: Sequence[str], ctx: Context) -> Floats:
    """Share of each feeder, percent, [subject, 1]; 0 for what the recipe does not name, if it names any feeder here."""
    shares = ctx.recipe.shares if ctx.recipe else {}
    others = 0.0 if any(name in shares for name in subjects) else np.nan
    return np.array([shares.get(name, others) for name in subjects]).reshape(-1, 1)


def leading(score: Floats, part: float = 0.5) -> Bools:
    """Where a feeder's score, 0 or more, is at least `part` of the highest, [subject, n]: half by default, as what one
    feeder does to the shares of the others is said with that one. NaN counts as leading.
    """
    with np.errstate(invalid="ignore"):
        return ~(score < part * np.fmax.reduce(score, axis=0, initial=0.0))


def highest_pressure(view: CoarseView, ctx: Context) -> Floats:
    """The highest melt pressure logged, bar, [n]; NaN where none is."""
    return np.fmax.reduce(view.rows("melt_pressure", ctx.subjects_of("melt_pressure")), axis=0, initial=np.nan)


def moving_torque(subjects: Sequence[str], ctx: Context) -> tuple[str, ...]:
    """Those whose ingredient moves torque."""
    return tuple(name for name in subjects if ctx.line.feeder_named(name).effect_on_torque != "none")


NEAR_SET = 0.01
"""A rate that is held stands within so much of its set-point: the two are logged with other numbers of digits."""


TO_THE_DIGIT = 1e-9
"""Relative; the mean of a held reading differs in its last bits by how much of the cell was read."""


def to_the_digit(joined: Floats) -> Bools:
    """Cells whose reading is that of the cell before, and both are known. [row, 1 + n] -> [row, n]."""
    with np.errstate(invalid="ignore"):
        out: Bools = np.abs(joined[:, 1:] - joined[:, :-1]) <= TO_THE_DIGIT * np.abs(joined[:, 1:])
    return out


def held_on_set(past: Floats, rate: Floats, asked: Floats) -> tuple[Bools, Floats]:
    """Where a rate stands to the digit, on its set-point, [feeder, n]: held, calculated or echoed, and not weighed.

    past: its last cell, [feeder, 1].
    """
    joined, after = with_past(past, rate)
    with np.errstate(invalid="ignore"):
        return to_the_digit(joined) & (np.abs(rate - asked) <= NEAR_SET * asked) & (asked > 0), after


def by_cell(values: Floats, subjects: Sequence[str]) -> Floats:
    """A row of the line, once a feeder, [subject, n]."""
    return values[None, :].repeat(len(subjects), axis=0)


def label(subject: str, ctx: Context) -> str:
    """Feeder name with what it feeds."""
    feeder = ctx.line.feeder_named(subject)
    return (
        f"feeder {subject} ({feeder.material or feeder.title})"
        if feeder.material or feeder.title
        else (f"feeder {subject}")
    )


def asked_start(subjects: tuple[str, ...]) -> State:
    """Nothing asked yet."""
    return {"wanted": np.full(len(subjects), np.nan), "since": np.full(len(subjects), 10**6, np.int64)}


def asked_anew(state: State, wanted: Floats, ctx: Context) -> tuple[Bools, State]:
    """Whether each feeder's set-point has stepped within the last minute, [feeder, n]: its loop is still on the way."""
    known, last = last_known(state["wanted"], wanted)
    before = np.concatenate((state["wanted"][:, None], known), axis=1)[:, : wanted.shape[1]]
    with np.errstate(invalid="ignore"):
        steps = np.abs(known - before) > ASKED_STEP * np.abs(before)
    since, after = run_length(state["since"], ~steps)
    return since < ctx.cells(FOLLOWS_S), {"wanted": last, "since": np.minimum(after, 10**6)}
