"""Less goes through the screws than the feeders say: is the path to the throat blocked, or is the intake flooded?

Both look alike: all feeders on set, torque and pressure low, specific energy low. Starved and flooded ask this one
judge, so that one of them speaks and never the other by mistake. It goes by what came first and by the shape of the
fall, adds up points, and holds its verdict while the episode lasts; what is learned later changes the order of the
causes inside the one finding. Points and limits: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.conditions import clear_fall, hoppers_empty, machine_load
from monitor.conditions.machine_load import Load, gross_torque_pct, with_carried
from monitor.contract import Context, State
from monitor.exact import (
    Bools,
    Floats,
    blank,
    last_known,
    run_length,
    trailing_greatest,
    trailing_mean,
    two_threshold,
    with_past,
)
from monitor.view import CoarseView

DECIDE_AFTER_CELLS, DECIDE_AT_LATEST_CELLS, STILL_FALLING = 3, 6, 0.15
"""A fall must have lasted 30 s before it is judged, a minute where it still deepens by this share in 10 s: its depth
and its pace are to be known by then."""

SHARP_SHARE = 0.6
"""A fall is sharp if this much of it came within 30 s, and sudden enough to be one event if within `sharp_s`."""

MOST_PRESSURE_PER_TORQUE = 0.8
"""ln pressure per ln torque; a melt that grows thinner moves pressure at least as much as torque."""

SLOWLY_LN, SLOWLY_PRESSURE, SLOWLY_S = 0.2, 0.8, 300.0
"""A loss that was not seen to come: so much of the torque, with clearly less of the pressure, for so long. A torque
slides by 3 to 8 % after a start, and a melt that grows thinner takes as much of the pressure. Common practice, no
source."""

COLDER_LN, COLDER_C, COLDER_S = 0.12, 2.0, 600.0
"""A loss that crept in beside a melt that grew colder, for so long: what turns has less to shear. A thinner melt would
have taken as much of the pressure, a torque that reads low left the melt as warm. Common practice, no source."""

STIFFER_PER_C = 0.008
"""ln pressure that each C of colder melt adds at the same rate: 20 kJ/mol at 225 C (value from memory). A screw that
works less makes colder melt, which hides in the pressure that less comes."""

GRADUAL_SHARE = 0.2
"""A fall of which no more came within 30 s crept in: neither a slide shut nor a lump says that."""

RAISED_OVER_S = 300.0
"""Rate over speed as fed is taken over so long: a feeder that finds its rate after a refill is no raise."""

LARGE_RAISE = 0.14
"""ln rate over speed: so much more than the screws took before may flood them an hour later, if the torque had followed
at first."""

RAISED, SLOWER, FACTOR_DOWN, THROAT_UP_C, FULL = 0.04, 0.04, 0.08, 5.0, 0.85
"""What may come first: ln rate over speed up, ln speed down, ln feed factor of a main feeder down, throat warmer than
10, 20 or 30 min before, degree of fill at the throat."""

MOST_FACTOR_DOWN, AT_FULL_DRIVE_PCT = 0.45, 97.0
"""No bulk density falls further (ln), and no gravimetric feeder goes to its end for one that stays on set: a feeder
that needs so much more drive for the rate it reports does not deliver that rate."""

CLIMBS = 0.1
"""Of the drive, in half a minute."""

ON_SET = 0.95
COPIED, COPIED_CELLS = 1e-6, 3
"""A rate that equals its set-point so nearly for half a minute is a copy of it: nothing is measured there."""

GONE = 0.5
"""So much of the net torque gone within half a minute, at the same speed, is feed that does not arrive, whatever the
pressure does: a side feeder may make what is left stiffer, an empty die has none, no melt thins so far so fast."""

LOST = 0.7
"""So much of it left, gone within half a minute, and the pressure not up: what goes out of long screws and a large head
takes minutes to show there, and no melt grows so much thinner so fast."""

FULLEST = 1.15
MAIN_FEEDER_SHARE = 0.3
DEEP, HALF_DEEP, SHALLOW = 0.35, 0.6, 0.75
"""Share of the net torque that is left. An intake that is flooded still takes what fits; a path blocked does not: a
torque that falls by a little and stays there speaks for the intake as much as its pace does for the path."""

AT_LIMIT_SHARE = 0.9
RECOVERED, NOT_RECOVERED = 0.95, 0.85
"""Work per kilogram fed against what was usual, after the rate over speed was cut."""

UNKNOWN_FOR_S = 600.0
"""A cut of rate or a raise of speed leaves nothing to compare with: the episode waits this long for the answer."""

NO_CAUSE = -0.25
"""An intake does not flood of itself: with nothing seen that would do it, a chute that closes is the commoner case.
Both are said."""

STRONG = ("raised", "slower", "factor_down", "throat_up", "was_limited")
FIRST = (*STRONG, "weak_raise", "full")
FLAGS = (*FIRST, "says_more", "sharp", "gradual", "drop", "deep", "half_deep", "shallow", "recovered", "not_recovered")


@dataclass(frozen=True)
class Verdict:
    """path, intake: bool [n], at most one of them true. odds: points for the intake less points for the path.

    known: where it could be judged. flags: name -> 0 or 1, NaN where nothing was logged that would show it.
    """

    path: Bools
    intake: Bools
    odds: Floats
    known: Bools
    flags: dict[str, Floats]


def start(ctx: Context) -> State:
    """Nothing judged."""
    feeders = len(ctx.subjects_of("feeder_drive"))
    one = np.full(1, np.nan)
    return {
        "on": np.zeros(1, bool),
        "run": np.zeros(1, np.int64),
        "fallen": np.zeros(1, np.int64),
        "began": np.zeros(1, bool),
        "found": np.zeros(1, np.int64),
        "left": blank(1, 3),
        "far": np.zeros(1, np.int64),
        "cold": np.zeros(1, np.int64),
        "gone": np.zeros(1, np.int64),
        **clear_fall.start(),
        "smooth": blank(1, ctx.cells(60) - 1),
        "smooth_pressure": blank(1, ctx.cells(60) - 1),
        "fed": blank(1, ctx.cells(RAISED_OVER_S) - 1),
        "sharp": blank(1, 8),
        "sudden": blank(1, ctx.cells(120) - 1),
        "limited": blank(1, ctx.cells(600) - 1),
        "factor": blank(feeders, ctx.cells(50)),
        "copied": np.zeros(feeders, np.int64),
        "drive": blank(feeders, 3),
        "throat": blank(1, ctx.cells(1800)),
        "sign": one,
        "work": one,
        "specific": one,
        "first": np.full(len(FIRST), np.nan),
        "steepest": one,
    }


def nothing(n: int) -> Verdict:
    """Neither, where the screw is flood-fed and always full."""
    no = np.zeros(n, bool)
    return Verdict(no, no, np.zeros(n), no, dict.fromkeys(FLAGS, np.full(n, np.nan)))


def judge(
    state: State, found: Load, view: CoarseView, ctx: Context, armed: Bools, least_fall: float, intake_fall: float
) -> tuple[State, Verdict]:
    """Verdicts for a run of cells. armed: [n]. least_fall, intake_fall: in ln torque, without and with a cause seen.

    'starved' and 'flooded' ask for the same verdict from the same state: it is made once.
    """
    asked = ("intake or path", least_fall, intake_fall, armed.tobytes(), *(rows.tobytes() for rows in state.values()))
    return view.once(asked, lambda: _judge(state, found, view, ctx, armed, least_fall, intake_fall))


def _judge(
    state: State, found: Load, view: CoarseView, ctx: Context, armed: Bools, least_fall: float, intake_fall: float
) -> tuple[State, Verdict]:
    learned = np.isfinite(found.torque)
    found = with_carried(found, view, ctx)
    flags, kept = _evidence(state, found, view, ctx)
    strong, odds, torque, spread = _strong(flags), _points(flags), found.torque, found.pressure_scatter
    pressure = found.pressure + STIFFER_PER_C * np.fmin(np.nan_to_num(found.melt_c), 0.0)
    left = np.exp(torque)
    smooth, kept["smooth"] = trailing_mean(state["smooth"], torque[None, :], 4)
    smooth_pressure, kept["smooth_pressure"] = trailing_mean(state["smooth_pressure"], pressure[None, :], 4)
    high, kept["sudden"] = trailing_greatest(state["sudden"], left[None, :])
    with np.errstate(invalid="ignore"):
        sudden = high[0] - left >= SHARP_SHARE * (1 - left)
        fall = np.fmax(least_fall * found.wider, 5 * found.torque_scatter)
        mild = np.fmax(intake_fall * found.wider, 3 * found.torque_scatter)
        most = 1.0 if found.raw_current else MOST_PRESSURE_PER_TORQUE
        blind = np.isnan(pressure)
        halved = (flags["sharp"] == 1) & (torque <= np.log(GONE))
        pumped = clear_fall.less_is_pumped(view, torque)
        less_than_torque = blind | halved | pumped | (pressure >= most * torque - spread)
        follows = blind | pumped | (pressure <= -np.fmax(0.02, 2 * spread))
        not_up = blind | (pressure <= spread)
        on_set = ~(found.rate < np.log(0.92)) & ~(view.quantity("moved_together") == 1)
        on_set &= ~hoppers_empty.explains_fall(view, torque, ctx)
        # Without a pressure a thinner melt looks the same, but for its pace.
        gone = halved | ((flags["sharp"] == 1) & (torque <= np.log(LOST)) & not_up & ~blind)
        deep_less = (
            (torque <= -fall) & (follows | gone) & less_than_torque & np.where(blind, flags["sharp"] == 1, sudden)
        )
        # What crept in, or was there when the normal level became known: far less, and for minutes.
        far_less = (torque <= -np.fmax(SLOWLY_LN * found.wider, fall)) & follows & ~blind
        far_less &= pressure >= SLOWLY_PRESSURE * most * torque
        far_less |= pumped & (torque <= -fall)
        lasting, kept["far"] = run_length(state["far"], far_less[None, :])
        colder = (torque <= -np.fmax(COLDER_LN * found.wider, fall)) & (found.melt_c <= -COLDER_C)
        colder &= (np.abs(pressure) <= 0.5 * np.abs(torque)) & (pressure <= spread) & ~blind
        cold, kept["cold"] = run_length(state["cold"], colder[None, :])
        deep_less |= (lasting[0] >= ctx.cells(SLOWLY_S)) | (cold[0] >= ctx.cells(COLDER_S))
        mild_less = (torque <= -mild) & not_up & less_than_torque & strong
        # A load that hunts at its limit scatters: over a minute it is known better.
        calm = np.fmax(intake_fall * found.wider, 1.5 * found.torque_scatter)
        mild_less |= (
            (smooth[0] <= -calm)
            & (torque <= -0.4 * calm)  # a mean is low for as long as it is wide, after all is well again
            & strong
            & (blind | ((smooth_pressure[0] <= 0.5 * spread) & (smooth_pressure[0] >= most * smooth[0] - 0.5 * spread)))
        )
        clear, now = clear_fall.judge(
            state, found, pressure, follows, sudden & (flags["sharp"] == 1), armed, least_fall, ctx
        )
        kept |= now
        fallen = armed & (deep_less | mild_less | clear)
        less = fallen & on_set
        loose = blind | (torque <= np.log(0.6)) | ((pressure <= spread) & (pressure >= 1.25 * most * torque - spread))
        stays = clear | loose & (
            (torque <= -0.6 * fall) | (((torque <= -0.6 * mild) | (smooth[0] <= -0.6 * calm)) & strong)
        )
    run, kept["run"] = run_length(state["run"], less[None, :])
    past, _ = with_past(state["left"], left[None, :])
    with np.errstate(invalid="ignore"):
        falling = past[0, 2 : 2 + view.n] - left > STILL_FALLING * (1 - left)
    # A path that is blocked backs up into its feeders within a minute: what began with all on set goes on without.
    whole, kept["fallen"] = run_length(state["fallen"], fallen[None, :])
    began, kept["began"] = two_threshold(
        state["began"], run >= DECIDE_AFTER_CELLS, ~fallen[None, :] & ~(run >= DECIDE_AFTER_CELLS)
    )
    late = began[0] & (whole[0] >= DECIDE_AT_LATEST_CELLS)
    # A drive on its way up has not said yet whether it finds its rate or goes to its end.
    rises = late | ((run[0] >= DECIDE_AFTER_CELLS) & ~falling & ~flags.pop("drive_climbs").astype(bool))
    usual_work, usual_specific = _usual(view)
    first = run[0] == DECIDE_AFTER_CELLS
    work, kept["work"] = last_known(state["work"], np.where(first, usual_work, np.nan)[None, :])
    specific, kept["specific"] = last_known(state["specific"], np.where(first, usual_specific, np.nan)[None, :])
    recovered, not_recovered = _after_a_cut(view, found, work[0], specific[0])
    length, kept["found"] = run_length(state["found"], recovered[None, :])
    known = np.isfinite(torque)
    moving = view.in_phase("steady", "settling", "changing", "starting")
    # Carried over it is known well enough to say that something is gone, not that an answer has come.
    # One odd reading interrupts and ends nothing.
    odd = learned & ~stays & ~rises
    gone_for, kept["gone"] = run_length(state["gone"], odd[None, :])
    off = (gone_for[0] >= DECIDE_AFTER_CELLS) | (length[0] >= 2) | ~moving
    on, kept["on"] = two_threshold(state["on"], rises[None, :], (off & ~rises)[None, :])
    begins = on & ~np.concatenate((state["on"], on[0]))[:-1]
    sign, kept["sign"] = last_known(state["sign"], np.where(begins, np.where(odds > 0, 1.0, -1.0), np.nan))
    # What came first, and how sharp it was, is kept; what is seen later is added.
    rows = np.array([np.where(np.isnan(flags[name]), -1.0, flags[name]) for name in FIRST])
    latched, kept["first"] = last_known(state["first"], np.where(begins, rows, np.nan))
    for row, name in enumerate(FIRST):
        then = np.where(latched[row] < 0, np.nan, latched[row])
        # A feeder that delivers less a turn later on stands in its own material: path or intake, either backs up.
        since = then if name == "factor_down" else np.fmax(then, flags[name])
        flags[name] = np.where(on[0] & np.isfinite(latched[row]), since, flags[name])
    drop, kept["steepest"] = last_known(state["steepest"], np.where(begins, flags["drop"], np.nan))
    with np.errstate(invalid="ignore"):
        steep = np.fmax(np.where(on[0], drop[0], np.nan), flags["drop"]) >= SHARP_SHARE * (1 - left)
    flags["sharp"] = np.where(known, steep, flags["sharp"])
    flags = {**flags, "recovered": recovered.astype(float), "not_recovered": not_recovered.astype(float)}
    odds = _points(flags) + 4 * recovered - 2 * not_recovered
    return kept, Verdict(
        on[0] & (sign[0] < 0) & ~odd, on[0] & (sign[0] > 0) & ~odd, odds, learned | recovered | (known & fallen), flags
    )


def _evidence(state: State, found: Load, view: CoarseView, ctx: Context) -> tuple[dict[str, Floats], State]:
    """Flags and `drop`, how much of the torque went in the steepest 30 s of late; and the new state of the windows."""
    kept = dict(state)
    specific = view.quantity("specific_throughput")
    before, _ = view.expectation("before specific_throughput")
    torque_before, _ = view.expectation("before net_torque")
    now_torque, _ = view.expectation("net_torque")
    now_specific, _ = view.expectation("specific_throughput")
    usual_speed, _ = view.expectation("screw_speed")
    with np.errstate(divide="ignore", invalid="ignore"):
        fed, kept["fed"] = trailing_mean(state["fed"], specific[None, :], ctx.cells(120))
        by = np.log(
            np.where(np.isnan(now_specific), machine_load.asked_specific(fed[0], view, ctx), now_specific) / before
        )
        taken = np.log(now_torque / torque_before) >= 0.5 * by
        old = view.ages["unchanged"]
        raised = (by >= RAISED) & (old <= 3600.0)
        weak_raise = raised & taken & (old > 900.0) & (by < LARGE_RAISE)
        slower = np.log(view.get("screw_speed") / usual_speed) <= -SLOWER
    feeders = ctx.subjects_of("feeder_drive")
    climbs, down, drive_seen, says_more = (np.zeros(view.n, bool) for _ in range(4))
    if feeders:
        rate, drive = view.rows("feeder_rate", feeders), view.rows("feeder_drive", feeders)
        usual = np.array([view.expectation(f"feed_factor:{feeder}")[0] for feeder in feeders])
        with np.errstate(divide="ignore", invalid="ignore"):
            main = rate > MAIN_FEEDER_SHARE * view.quantity("total_feed")
            factor = np.where(main & (drive > 1), np.log(rate / drive / usual), np.nan)
        smooth, kept["factor"] = trailing_mean(state["factor"], factor, 3)
        with np.errstate(invalid="ignore"):
            wanted = view.rows("feeder_setpoint", feeders)
            driven, kept["drive"] = with_past(state["drive"], drive)
            climbs = np.logical_or.reduce(main & (drive - driven[:, : view.n] > CLIMBS * drive), axis=0)
            same = np.abs(rate - wanted) <= COPIED * rate
            copied, kept["copied"] = run_length(state["copied"], same)
            fell = smooth <= -FACTOR_DOWN
            untrue = (smooth <= -MOST_FACTOR_DOWN) | (drive >= AT_FULL_DRIVE_PCT) | (copied >= COPIED_CELLS)
            says_more = np.logical_or.reduce(fell & untrue & (rate >= ON_SET * wanted), axis=0)
            down = np.logical_or.reduce(fell & ~untrue, axis=0) & ~says_more
        drive_seen = np.isfinite(smooth).any(axis=0)
    throat = view.get("throat_temperature")
    joined, kept["throat"] = with_past(state["throat"], throat[None, :])
    back = joined.shape[1] - view.n
    cooler = np.fmin(joined[0, : view.n], joined[0, back // 3 : back // 3 + view.n])
    cooler = np.fmin(cooler, joined[0, 2 * back // 3 : 2 * back // 3 + view.n])
    gross = gross_torque_pct(view, ctx)
    peak, kept["limited"] = trailing_greatest(state["limited"], gross[None, :])
    left = np.exp(found.torque)
    past, kept["left"] = with_past(state["left"], left[None, :])
    drop, kept["sharp"] = trailing_greatest(state["sharp"], past[:, : view.n] - left)
    with np.errstate(invalid="ignore"):
        throat_up = throat - cooler >= THROAT_UP_C
        was_limited = peak[0] >= AT_LIMIT_SHARE * ctx.line.drive.torque_limit_pct
        # A fill far above 1 says that geometry or bulk density in the files are not those of this line.
        full = (view.quantity("fill") >= FULL) & (view.quantity("fill") <= FULLEST)
        sharp = drop[0] >= SHARP_SHARE * (1 - left)
        deep, half, shallow = left <= DEEP, left <= HALF_DEEP, left >= SHALLOW
    seen = {
        "raised": (raised & ~weak_raise, np.isfinite(by)),
        "weak_raise": (weak_raise, np.isfinite(by)),
        "slower": (slower, np.isfinite(usual_speed)),
        "factor_down": (down, drive_seen),
        "says_more": (says_more, drive_seen),
        "throat_up": (throat_up, np.isfinite(throat)),
        "was_limited": (was_limited, np.isfinite(gross)),
        "full": (full, view.quantity("fill") <= FULLEST),
        "sharp": (sharp, np.isfinite(found.torque)),
        "gradual": (drop[0] <= GRADUAL_SHARE * (1 - left), np.isfinite(found.torque)),
        "deep": (deep, np.isfinite(found.torque)),
        "half_deep": (half, np.isfinite(found.torque)),
        "shallow": (shallow, np.isfinite(found.torque)),
    }
    flags = {name: np.where(known, flag, np.nan) for name, (flag, known) in seen.items()}
    return {**flags, "drop": drop[0], "drive_climbs": climbs.astype(float)}, kept


def _strong(flags: dict[str, Floats]) -> Bools:
    """Whether something came first that floods an intake."""
    return np.logical_or.reduce([flags[name] == 1 for name in STRONG])


def _points(flags: dict[str, Floats]) -> Floats:
    """Points for a flooded intake less points for a blocked path, [n]."""
    strong = _strong(flags)
    looked_for = 0.75 * np.isfinite(flags["factor_down"]) + 0.25 * np.isfinite(flags["throat_up"])
    return (
        NO_CAUSE * ~strong
        + 5.0 * strong
        + 1.0 * ((flags["weak_raise"] == 1) & ~strong)
        + 1.0 * (flags["full"] == 1)
        + np.where(flags["sharp"] == 1, -2.0, np.where(flags["gradual"] == 1, 0.0, -0.5))
        - np.where(flags["deep"] == 1, 3.0, np.where(flags["half_deep"] == 1, 1.0, 0.0))
        + 1.0 * ((flags["shallow"] == 1) & ~strong)
        - np.where(strong, 0.0, looked_for)
        - 5.0 * (flags["says_more"] == 1)
    )


def _usual(view: CoarseView) -> tuple[Floats, Floats]:
    specific, _ = view.expectation("specific_throughput")
    torque, _ = view.expectation("net_torque")
    with np.errstate(divide="ignore", invalid="ignore"):
        return torque / specific, specific


def _after_a_cut(view: CoarseView, found: Load, work: Floats, specific: Floats) -> tuple[Bools, Bools]:
    """Whether, rate over speed having been cut, each kilogram takes its usual work again, or still does not.

    work, specific: net torque over rate over speed, and rate over speed, as usual before the fall. Asked only while
    nothing is expected of the new speed and rate.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        now = view.quantity("specific_throughput")
        cut = np.log(now / specific) <= -RAISED
        share = view.quantity("net_torque") / now / work
    age = view.ages["unchanged"]
    waited = cut & np.isnan(view.expectation("net_torque")[0]) & (age >= 60.0) & (age <= UNKNOWN_FOR_S)
    return waited & (share >= RECOVERED), waited & (age >= 120.0) & (share < NOT_RECOVERED)
