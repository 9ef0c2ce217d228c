"""A couple that slips: its reading falls faster than steel can, and its zone takes more heat for ever after.

A zone without the heat that held it falls by what that gave, no more (`leaps.without_heat_c`); what falls faster is
the reading, or water on the wall. The loop then brings the reading back to its set-point, and the real zone stands
hotter by as much: it takes more heat from then on and its neighbours less, where water would cool them too.
"""

from __future__ import annotations

import numpy as np

from monitor.conditions import leaps
from monitor.conditions.zone_minutes import Minutes, median_of_others
from monitor.contract import State
from monitor.exact import Bools, Floats, trailing_mean

AT_SET_C = 3.0
UNCOOLED_MIN, UNCOOLED_PCT = 5, 1.0
BEFORE_MIN, MEAN_MIN = 3, 10
WAIT_MIN, EXPIRE_MIN = 25, 60
"""A loop needs some 20 min to find its new output (value from memory); what has not shown in an hour is no slip."""

LEAST_MORE_PCT, MORE_SHARE = 2.0, 0.15
BESIDE_PCT, BESIDE_UNCOOLED_PCT = -0.2, 0.3
"""What the heated neighbours may take more, mean of theirs, % of output; below zero where the zone has water."""

STAYS = 0.5
NONE = 1_000_000


def start(zones: int) -> State:
    """No couple has slipped. before: outputs of all zones when that of a row did, %. fell: C within a minute."""
    return {
        "age": np.full(zones, NONE, np.int64),
        "before": np.full((zones, zones), np.nan),
        "fell": np.full(zones, np.nan),
        "slid": np.zeros(zones, bool),
    }


def falls(x: Minutes, calm: Bools) -> Floats:
    """How far a reading at its set-point fell within a minute, C [zone, m]; NaN where steel could, or was cooled."""
    now, before = x.now("temperature"), x.ago(x.zone["temperature"], 1)
    cooled = x.extremes(x.zone["cool"], UNCOOLED_MIN)[1]
    duty = x.mean(x.zone["heat"], MEAN_MIN)
    with np.errstate(invalid="ignore"):
        fall = before - now
        steep = fall >= leaps.without_heat_c(duty)
        steep &= (np.abs(before - x.now("wanted")) <= AT_SET_C) & ~(cooled > UNCOOLED_PCT)
    return np.where(steep & calm[None, :], fall, np.nan)


def fell_and_stayed(x: Minutes) -> Bools:
    """Readings at their set-point that fell within two minutes faster than their zones without heat, and a minute later
    by no more than `leaps.ENDED_SHARE` of it, none of them cooled, [zone, past + m]: a wall would go on."""
    value, wanted = x.zone["temperature"], x.zone["wanted"]
    out = np.zeros(value.shape, bool)
    with np.errstate(invalid="ignore"):
        fell, after = value[:, :-4] - value[:, 2:-2], value[:, 3:-1] - value[:, 4:]
        out[:, 4:] = fell >= leaps.without_heat_c(x.zone["expected"][:, :-4], 2.0)
        out[:, 4:] &= (np.abs(value - wanted)[:, :-4] <= AT_SET_C) & (after <= leaps.ENDED_SHARE * fell)
        out[:, 4:] &= ~(x.zone["cool"][:, :-4] > UNCOOLED_PCT)
    return out


def idle(state: State) -> bool:
    """Whether nothing has slipped lately."""
    return bool((state["age"] == NONE).all())


def slips(state: State, x: Minutes, calm: Bools, water: Bools) -> tuple[State, Bools, dict[str, Floats]]:
    """Which zones stand with a slipped couple, [zone, m]; and fell, before, beside, beside_off of them.

    calm: minutes in which the line gives no reason for another duty, [m]. water: zones with cooling, [zone].
    """
    zones, m = len(x.zones), x.m
    age, before, fell, slid = (state[name].copy() for name in ("age", "before", "fell", "slid"))
    fall, now = falls(x, calm), x.mean(x.zone["output"], MEAN_MIN)
    then = trailing_mean(*x.tail(x.ago_rows(x.zone["output"], BEFORE_MIN), MEAN_MIN), MEAN_MIN - 2)[0]
    off = np.abs(x.now("temperature") - x.now("wanted"))
    holds = np.zeros((zones, m), bool)
    facts = {name: np.full((zones, m), np.nan) for name in ("fell", "before", "beside", "beside_off")}
    falling = [np.flatnonzero(cells).tolist() for cells in np.isfinite(fall).T]
    watched = set(np.flatnonzero(age < NONE).tolist())
    for i in range(m):
        for zone in falling[i]:
            if zone not in watched:
                age[zone], before[zone], fell[zone] = 0, then[:, i], fall[zone, i]
                watched.add(zone)
        for zone in sorted(watched):
            age[zone] += 1
            fell[zone] = np.fmax(fell[zone], fall[zone, i])
            more, beside, place, least = _since(zone, now[:, i], before[zone], bool(water[zone]))
            if slid[zone]:
                slid[zone] = not more < STAYS * least
            elif age[zone] >= WAIT_MIN:
                slid[zone] = more >= least and beside <= 0.0 and off[zone, i] <= AT_SET_C
            if not calm[i] or not (slid[zone] or age[zone] <= EXPIRE_MIN):
                age[zone], before[zone], fell[zone], slid[zone] = NONE, np.nan, np.nan, False
                watched.discard(zone)
                continue
            age[zone] = min(int(age[zone]), EXPIRE_MIN + 1)
            holds[zone, i] = slid[zone]
            for name, value in (("fell", fell[zone]), ("before", before[zone, zone]), ("beside", place)):
                facts[name][zone, i] = value
            facts["beside_off"][zone, i] = now[zone + int(place), i] - before[zone, zone + int(place)]
    return {"age": age, "before": before, "fell": fell, "slid": slid}, holds, facts


def _since(zone: int, now: Floats, before: Floats, water: bool) -> tuple[float, float, float, float]:
    """How much more a zone takes than before, less what all others do; how far its neighbours' need is over what a
    slipped couple lets it be; the neighbour that fell most (-1, +1); and what counts as more."""
    moved = [a - b for a, b in zip(now.tolist(), before.tolist(), strict=True)]
    change = [a if b >= 2.0 else np.nan for a, b in zip(moved, before.tolist(), strict=True)]
    places = [place for place in (-1, 1) if 0 <= zone + place < len(moved)]
    sides = [(_over_others(change, zone + place), place) for place in places]
    known = [(value, place) for value, place in sides if value == value]
    allowed = BESIDE_PCT if water else BESIDE_UNCOOLED_PCT
    mean = sum(value for value, _ in known) / len(known) if known else (1.0 if water else allowed)
    place = min(known)[1] if known else places[0]
    more = _over_others(moved, zone)
    return more, mean - allowed, float(place), max(LEAST_MORE_PCT, MORE_SHARE * float(before[zone]))


def _over_others(moved: list[float], zone: int) -> float:
    """What a zone moved more than the median of all others, % of output."""
    common = median_of_others(moved, zone)
    return moved[zone] - (common if common == common else 0.0)
