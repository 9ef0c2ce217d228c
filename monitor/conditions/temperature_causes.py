"""Why a zone or the melt may be too hot or too cold: what is seen beside it, and the causes it speaks for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ingest.roles import channel_key
from monitor import pressure_path
from monitor.conditions import hotter_than_melt, leaps, melt_causes
from monitor.conditions.melt_causes import MORE_WORK, load_words
from monitor.conditions.zone_signals import LINE_ROWS, with_cooling
from monitor.contract import Context, State
from monitor.exact import Bools, Floats, ewma, last_known, run_length
from monitor.records import Cause
from monitor.view import CoarseView

LEAP_C_MIN = 6.0
"""A reading that moves so far within a minute, not cooled and not at full heat, is no steel at work: bands of a barrel
do 1 to 4 C/min, as much as it loses without them (value from memory)."""

SHEAR = "shear heat: goes with speed and load"

DEEP_C = 15.0
"""A zone whose heater works is not so far under its target for want of shear, or for cold feed: its controller gives
what lacks. Common practice, no source."""

NEAR_FULL_PCT, WHOLE_A, NO_CURRENT_A = 70.0, 0.5, 0.05
"""A zone that usually takes so much heat has little left for more; current of a heater that is not dead, and what a
display of 0.1 A shows as none. Common practice, no source."""

WOUND_UP_S = 900.0
"""Off for longer than this is no half of a swing: the longest cycle of a loop is 20 min (`zone_hunting`)."""

LATELY_S = 1800.0
"""What happened so long ago may still be why: dead time and one time constant of a barrel zone."""

HOTTER_MELT = (*MORE_WORK, "melt_over_temperature")
"""Findings that bear witness for melt that brings more heat than usual."""

COLDER_MELT = ("starved", "moisture", "sme_off", "melt_under_temperature")
"""Findings that bear witness for melt that brings less."""

FULL_PCT, NOTHING_PCT = 90.0, 1.0
ANSWERS_SHARE, ANSWERS_PCT = 0.08, 2.0
"""A controller that has changed its output by so much of what the zone usually needs, and by so many per cent, answers:
it is not in manual, and something else heats or cools. Common practice, no source."""
USUAL_S = 600.0
"""Over so long a pressure is held to be usual."""

AHEAD_SHARE = 0.3
"""What a zone too hot may pass on to a body behind it, by the melt, of what it is over (value from memory)."""

HOTTER_C = 5.0
"""Melt that is so much hotter than usual heats what it passes behind the screw; common practice, no source."""

TRIMMED_C = 2.0
COMMON_C = 1.5
"""A zone so far off on the same side moves with the others."""


def start(subjects: tuple[str, ...]) -> State:
    """Nothing seen. swung, cooled: cells since then; away, was: cells in a row off on the other side, now and lately;
    the rest as `leaps` keeps it."""
    count = len(subjects)
    long_ago = np.full(count, leaps.LONG_AGO, np.int64)
    nothing = {"head": np.full(count, np.nan), "near": long_ago}
    away = {"away": np.zeros(count, np.int64), "was": np.zeros(count)}
    return {**leaps.start(count), "swung": long_ago, "cooled": long_ago, **away, **nothing}


def seen(
    role: str,
    side: int,
    state: State,
    value: Floats,
    target: Floats,
    inner: Floats,
    subjects: tuple[str, ...],
    view: CoarseView,
    ctx: Context,
) -> tuple[dict[str, Floats], State]:
    """Facts by name, [subject, n], and the state. side: +1 too hot, -1 too cold.

    Seconds since the reading was half a limit off on the other side (swung_s) and for how long it was (away_s), since
    it leapt that way faster than steel (leapt_s) or went on at such a pace (raced_s), since the zone was cooled
    (cooled_s); how many others are off alike, and how far the furthest before it is; output, cooling and current of the
    zone, what it usually needs; load, speed and rate against usual, as shares.
    """
    step_s = view.step / 1e9
    with np.errstate(invalid="ignore"):
        off = side * (value - target)
        other_side = off <= -0.5 * side * (inner - target)
        swung, swung_after = run_length(state["swung"], ~other_side)
        away, away_after = run_length(state["away"], other_side)
        was, was_after = last_known(state["was"], np.where(away > 0, away, np.nan))
        limit = np.full(value.shape, LEAP_C_MIN) if side > 0 else _fall_c_min(role, value, subjects, view)
        heated = np.zeros(value.shape, bool)
        if role == "zone_temperature" and side > 0:
            heated = view.rows("zone_output", subjects) >= FULL_PCT
        leapt, raced, leaps_after = leaps.advance(state, side * value, limit, heated)
        alike = (off >= COMMON_C).astype(float)
    facts = {
        "swung_s": swung.astype(float) * step_s,
        "away_s": was * step_s,
        "leapt_s": leapt * step_s,
        "raced_s": raced * step_s,
        "alike": np.asarray(np.add.reduce(alike, axis=0)[None, :] - alike, float),
        "load_off": _off(view, "net_torque", view.quantity("net_torque"), value.shape),
        "speed_off": _off(view, "screw_speed", view.get("screw_speed"), value.shape),
    }
    after = {
        **leaps_after,
        "swung": swung_after,
        "away": away_after,
        "was": was_after,
        **{name: state[name] for name in ("cooled", "head", "near")},
    }
    if role != "zone_temperature":
        with np.errstate(invalid="ignore"):
            near = off <= 0.5 * side * (inner - target)
        facts["pressure_off"], head_state = _pressure_off(state, near, view, ctx)
        return facts, after | head_state
    output, apart = view.rows("zone_output", subjects), np.abs(view.rows("zone_cooling", subjects))
    # Where only heating is logged, a zone that has cooling and is not heated may be cooled.
    unseen = with_cooling(subjects, ctx) & np.isnan(apart)
    with np.errstate(invalid="ignore"):
        cooling = np.where(np.isnan(apart), np.where(output < 0, -output, 0.0 * output), apart)
        cooled, after["cooled"] = run_length(state["cooled"], ~((cooling > NOTHING_PCT) | (unseen & (output <= 0.05))))
    usual = np.array([view.expectation(channel_key("zone_output", zone))[0] for zone in subjects]).reshape(value.shape)
    bodies = np.array([[float(ctx.line.zone_named(zone).beyond_the_screw)] for zone in subjects]).reshape(-1, 1)
    water = with_cooling(subjects, ctx).astype(float)
    melt = LINE_ROWS["melt_c"](view, ctx)
    ahead = np.fmax.accumulate(np.concatenate((np.zeros((1, view.n)), off[:-1])), axis=0)
    return {
        **facts,
        "melt_off": np.broadcast_to(melt - LINE_ROWS["melt_expected"](view, ctx), value.shape),
        "above_c": hotter_than_melt.above_c(value, melt),
        "ahead_c": ahead,
        "output": output,
        "cooling": cooling,
        "cooled_s": cooled.astype(float) * step_s,
        "usual": usual.reshape(value.shape),
        "current": view.rows("zone_current", subjects),
        "setpoint": view.rows("zone_setpoint", subjects),
        "body": np.broadcast_to(bodies, value.shape),
        "water": np.broadcast_to(water, value.shape),
    }, after


def _fall_c_min(role: str, value: Floats, subjects: tuple[str, ...], view: CoarseView) -> Floats:
    """Fall within a minute that no steel makes, C, [subject, n]: with the heat a zone usually takes gone all at once.

    `LEAP_C_MIN` where that is not known, or the load has changed and shear heat with it.
    """
    out = np.full(value.shape, LEAP_C_MIN)
    if role != "zone_temperature":
        return out
    usual = np.array([view.expectation(channel_key("zone_output", zone))[0] for zone in subjects]).reshape(value.shape)
    with np.errstate(invalid="ignore"):
        calm = view.in_phase("steady") & (
            np.abs(_off(view, "net_torque", view.quantity("net_torque"), value.shape)) < 0.1
        )
        bare = leaps.without_heat_c(usual)
    return np.where(calm & np.isfinite(bare), np.fmin(bare, LEAP_C_MIN), out)


def _off(view: CoarseView, name: str, now: Floats, shape: tuple[int, ...]) -> Floats:
    """How far something of the line is off its usual value, as a share of it."""
    usual = view.expectation(name)[0]
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.broadcast_to(np.where(usual > 0, now / usual - 1.0, np.nan), shape)


def _pressure_off(state: State, near: Bools, view: CoarseView, ctx: Context) -> tuple[Floats, State]:
    """How far the pressure ahead of the screws is off what it was when the melt was last near its target at the same
    speed and rate, as a share, [subject, n]; and the state. What is expected of it follows a melt that creeps."""
    head = pressure_path.head_group(ctx)
    bar = np.broadcast_to(pressure_path.pressure(view, head), near.shape)
    calm = near & view.in_phase("steady") & (view.ages["unchanged"] >= LATELY_S)
    was, head_state = ewma(state["head"], np.where(calm, bar, np.nan), min(1.0, view.step / 1e9 / USUAL_S))
    since, near_state = run_length(state["near"], ~calm)
    with np.errstate(invalid="ignore", divide="ignore"):
        same = view.ages["unchanged"] >= LATELY_S + since * (view.step / 1e9)
        off = np.where(same & (was > 0), bar / was - 1.0, np.nan)
    return off, {"head": head_state, "near": near_state}


def follows_a_trim(facts: dict[str, float], within_c: float) -> bool:
    """Whether a zone does what it is told, within `within_c`, and somebody has trimmed its set-point.

    `setpoint_not_recipe` says so; a finding for each turn across the edge of the window would tell nothing new.
    """
    told = facts.get("setpoint", np.nan)
    return abs(told - facts["target"]) >= TRIMMED_C and abs(facts["value"] - told) <= within_c


def moved(role: str, facts: dict[str, float]) -> dict[str, float]:
    """How far a zone is off its target and, further on that way, off its own set-point, for the ranking of causes."""
    off_c, own_c = facts["value"] - facts["target"], facts["value"] - facts.get("setpoint", np.nan)
    if not np.isfinite(off_c):
        return {}
    if role != "zone_temperature":
        return {"melt_c": off_c}
    return {"off_c": off_c} | ({"beyond_set_c": abs(own_c)} if own_c * off_c > 0 else {})


def of(role: str, side: int, facts: dict[str, float]) -> tuple[Cause, ...]:
    """The causes, likeliest first."""
    if role == "melt_temperature":
        return melt_causes.hot(facts) if side > 0 else melt_causes.cold(facts)
    return _zone_hot(facts) if side > 0 else _zone_cold(facts)


def _first(causes: tuple[Cause, ...], *likeliest: Cause) -> tuple[Cause, ...]:
    """The likeliest ahead of the rest, in the order of `causes` otherwise."""
    return (*likeliest, *(cause for cause in causes if all(cause.text != one.text for one in likeliest)))


def _answers(facts: dict[str, float]) -> tuple[str, ...]:
    """What the controller of a zone too hot shows that takes its heat back; nothing where that is not seen."""
    output, usual = facts["output"], facts["usual"]
    if not usual - output >= max(ANSWERS_PCT, ANSWERS_SHARE * abs(usual)):
        return ()
    return (f"its controller has gone from the usual {usual:.0f} % to {output:.0f} %",)


def _comes_back(facts: dict[str, float], side: int) -> tuple[Cause, ...]:
    """Where it was off on the other side for longer than the half of a swing: its trouble is over, or repaired."""
    if not (facts["swung_s"] <= LATELY_S and facts["away_s"] >= WOUND_UP_S):
        return ()
    word = "cold" if side > 0 else "hot"
    said = f"it was too {word} for {facts['away_s'] / 60:.0f} min, until {facts['swung_s'] / 60:.0f} min ago"
    return (Cause(f"swings back: its controller had wound up while it was too {word}", (said,)),)


def _hunts(facts: dict[str, float], side: int) -> Cause:
    swung = facts["swung_s"] <= LATELY_S
    word = "cold" if side > 0 else "hot"
    said = (f"it was too {word} {facts['swung_s'] / 60:.0f} min ago",) if swung else ()
    return Cause("controller hunting: badly tuned for this zone", said, (), ("zone_hunting", "steam_flash"))


def _zone_hot(facts: dict[str, float]) -> tuple[Cause, ...]:
    causes = _by_its_current(_zone_hot_of_a_barrel(facts), facts)
    if not facts["body"]:
        return causes
    renamed = tuple(
        replace(cause, text="hotter melt from the screw") if cause.text == SHEAR else cause for cause in causes
    )
    if facts["output"] > NOTHING_PCT and _answers(facts):
        return renamed
    over = facts["value"] - facts["target"]
    if facts["melt_off"] >= HOTTER_C and over <= facts["melt_off"] + COMMON_C:
        said = f"the melt is {facts['melt_off']:.0f} °C hotter than usual"
        return _first(renamed, Cause("hotter melt from the screw", (said,), (), HOTTER_MELT))
    if over <= AHEAD_SHARE * facts["ahead_c"]:
        said = f"a zone before it is {facts['ahead_c']:.0f} °C over"
        # The melt carries on what another zone's heater has given it.
        return _first(renamed, Cause("hotter melt from the screw", (said,), (), (*HOTTER_MELT, "contactor_stuck")))
    # Little but its own heater makes a body hot that takes no heat; it is cooled by air and melt alone.
    last = ("cooling does not act", "hotter melt from the screw")
    if facts["above_c"] >= hotter_than_melt.FAR_C:
        # Whatever is told of the melt bears no witness for what it cannot do.
        cooler = Cause(last[1], (), (hotter_than_melt.words(facts["above_c"]),))
        renamed = (*(cause for cause in renamed if cause.text != last[1]), cooler)
    return tuple(sorted(renamed, key=lambda cause: last.index(cause.text) + 1 if cause.text in last else 0))


def _by_its_current(causes: tuple[Cause, ...], facts: dict[str, float]) -> tuple[Cause, ...]:
    """A heater that draws no current while none is asked for does not hang on: that is named last."""
    if not (facts["current"] <= NO_CURRENT_A and facts["output"] <= 0.05):
        return causes
    hangs = [cause for cause in causes if "contactor_stuck" in cause.shown_by]
    rest = [cause for cause in causes if "contactor_stuck" not in cause.shown_by]
    return (*rest, *(Cause(cause.text, (), ("its heater draws no current",)) for cause in hangs))


def _zone_hot_of_a_barrel(facts: dict[str, float]) -> tuple[Cause, ...]:
    output, setpoint, target, usual = facts["output"], facts["setpoint"], facts["target"], facts["usual"]
    load = load_words(facts, 1)
    shear = Cause(SHEAR, load, (), HOTTER_MELT)
    stuck = Cause("contactor stuck on: its heater current would show it", (), (), ("contactor_stuck",))
    cooling = Cause("cooling does not act", (), (), ("cooling_scaled",))
    wrong = Cause("set-point above the recipe", (), (), ("setpoint_not_recipe",))
    manual = Cause("controller in manual", (), (), ("zone_in_manual",))
    swapped = Cause("couple of another zone, or reading high", (), (), ("couples_swapped",))
    hunts = _hunts(facts, 1)
    several = (f"{facts['alike']:.0f} more zones are hot",) if facts["alike"] >= 2 else ()
    if setpoint > target + 1.0:
        return (Cause(wrong.text, (f"it is told {setpoint:.0f} °C",), (), wrong.shown_by), manual, swapped)
    if not facts["running"]:
        still = Cause("contactor stuck on: heating at zero output with the screw still", (), (), stuck.shown_by)
        return (still, swapped, hunts) if not output > NOTHING_PCT else (hunts, manual, still, swapped)
    if facts["current"] > 0.5 and output <= 0.05:
        known = Cause(stuck.text, (f"{facts['current']:.1f} A flow at zero output",), (), stuck.shown_by)
        return (known, shear, cooling)
    if facts["swung_s"] <= LATELY_S and not several:
        return (*_comes_back(facts, 1), hunts, manual, cooling)
    if facts["leapt_s"] <= LATELY_S:
        return (
            Cause("couple, plug or input: it rose faster than steel can", (), (), ("thermocouple_open",)),
            swapped,
            shear,
        )
    if facts["above_c"] >= hotter_than_melt.FAR_C and not output > NOTHING_PCT:
        alone = (hotter_than_melt.words(facts["above_c"]),)
        # Melt that is hotter since then is what this zone has made of it.
        return (Cause(stuck.text, alone, (), stuck.shown_by), swapped, cooling, Cause(SHEAR, (), alone))
    rest = (shear, cooling, stuck)
    if output > NOTHING_PCT:
        answers = _answers(facts)
        if answers and (load or several or facts["load_off"] != facts["load_off"]):
            return (Cause(shear.text, (*load, *several, *answers), (), shear.shown_by), hunts, swapped)
        if answers:
            alone = (*answers, "load and speed are as usual, and no other zone is hot")
            return (Cause(stuck.text, alone, (), stuck.shown_by), shear, hunts)
        if setpoint != setpoint:
            return (wrong, manual, hunts, swapped)
        return (manual, hunts, swapped)
    if several and not facts["cooling"] >= FULL_PCT:
        return _first(rest, Cause(shear.text, (*load, *several), (), shear.shown_by))
    if load:
        return rest
    if output != output and facts["load_off"] == facts["load_off"] and not several:
        # Its output is not logged. One zone alone, at a load as usual, gets no more shear heat than before.
        alone = ("load and speed are as usual, and no other zone is hot",)
        hot = Cause("heater stuck on: contactor or controller", alone, (), stuck.shown_by)
        return (hot, cooling, swapped, shear)
    if facts["cooling"] >= FULL_PCT or usual < -NOTHING_PCT:
        return _first(rest, Cause(cooling.text, ("load and speed are as usual",), (), cooling.shown_by))
    if usual >= 8.0:
        known = (f"it usually takes {usual:.0f} % heat", "load and speed are as usual")
        return _first(rest, Cause(stuck.text, known, (), stuck.shown_by))
    return rest


def _zone_cold(facts: dict[str, float]) -> tuple[Cause, ...]:
    output, setpoint, inner = facts["output"], facts["setpoint"], facts["inner"]
    if setpoint < inner:
        return (Cause("the controller's set-point is below the recipe", (), (), ("setpoint_not_recipe",)),)
    dead = Cause("heater or part of its bands dead", (), (), ("heater_dead", "heater_partial"))
    passing = Cause("cooling valve passing", (), (), ("cooling_passing",))
    loose = Cause("couple loose or reading low", (), (), ("thermocouple_loose", "wrong_couple_type", "couples_swapped"))
    manual = Cause("zone in manual or switched off", (), (), ("zone_in_manual",))
    # Melt that is colder for this zone's sake bears no witness for itself.
    deep = facts["target"] - facts["value"] >= DEEP_C
    feed = Cause(
        "more or colder feed, less shear", load_words(facts, -1), (), () if deep or facts["body"] else COLDER_MELT
    )
    if facts["body"]:
        feed = Cause("less or colder melt from the screw", feed.speaks_for, (), ("burst_disc_or_leak",))
    hunts = _hunts(facts, -1)
    several = (f"{facts['alike']:.0f} more zones are cold",) if facts["alike"] >= 2 else ()
    if facts["leapt_s"] <= LATELY_S and not min(facts["cooled_s"], facts["swung_s"]) <= LATELY_S:
        return (
            Cause("couple loose or slipped: it fell faster than steel can", (), (), loose.shown_by),
            # A couple that reads low asks for heat, too: what says so bears no witness for dead bands.
            Cause(dead.text),
            passing,
        )
    if facts["raced_s"] <= LATELY_S and facts["water"] and not min(facts["cooled_s"], facts["swung_s"]) <= LATELY_S:
        # Without its heater it would fall by what that gave, no faster.
        fast = Cause(passing.text, ("it fell faster, minute by minute, than without its heater",), (), passing.shown_by)
        return (fast, dead, loose)
    off = output < 5 and not facts["cooling"] > NOTHING_PCT
    if facts["cooled_s"] <= 300.0 and not off:
        minutes = f"cooled or not heated {facts['cooled_s'] / 60:.0f} min ago"
        over = Cause("cooling acts too hard: steam flash, or its pulses too long", (minutes,), (), ("steam_flash",))
        back = _comes_back(facts, -1)
        return (*back, hunts, over, passing) if facts["swung_s"] <= LATELY_S else (over, hunts, passing)
    if facts["swung_s"] <= LATELY_S:
        # Controllers that took back their heat for a hotter melt are late when it is gone: all of them at once.
        late = Cause(feed.text, (*feed.speaks_for, *several), (), feed.shown_by)
        return (late, hunts, dead) if several else (*_comes_back(facts, -1), hunts, dead, passing)
    if several and (output >= 60 or (output != output and deep)):
        return (Cause("heater supply: a phase, fuse or main contactor", several, (), ("heater_dead",)), feed, dead)
    if output > 60:
        full = facts["usual"] >= NEAR_FULL_PCT and not deep
        if full or facts["current"] > WHOLE_A:
            why = (f"it usually takes {facts['usual']:.0f} % heat already",) if full else ()
            flows = (f"{facts['current']:.1f} A flow",) if facts["current"] > WHOLE_A else ()
            short = Cause(feed.text, (*feed.speaks_for, *why, *flows), (), feed.shown_by)
            return (short, passing, dead, loose) if full else (passing, dead, short, loose)
        return (dead, passing, loose)
    if off:
        return (manual, passing, loose)
    if output != output and deep:
        gone = Cause("heater dead: its fuse, contactor or bands", (), (), dead.shown_by)
        return (gone, Cause(manual.text, (), (), manual.shown_by), loose, *(() if facts["body"] else (passing, feed)))
    weak = Cause("heater weak", (), (), ("heater_partial",))
    if several and not deep:
        # Heaters do not grow weak all at once: what passes these zones has changed.
        return (Cause(feed.text, (*feed.speaks_for, *several), (), feed.shown_by), weak, passing, loose)
    if facts["body"]:
        # A little colder with the melt that comes; how little load there is says whether any does.
        return (feed, weak, loose) if feed.speaks_for and not deep else (weak, loose, feed)
    return (weak, passing, feed, loose)
