"""What is asked of feeders whose set-points are not logged: rates that move by one factor, and nothing else."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from monitor.checkpoint import dump_state
from monitor.contract import Context
from monitor.line import Line
from monitor.quantities import asked_rate
from monitor.recipe import Recipe
from monitor.view import Readings

SHARES = {"A": 70.0, "B": 22.0, "C": 5.0, "D": 3.0}
RATE, CELLS, AT = 400.0, 360, 180
ROLES = ("screw_speed", "torque", *(f"feeder_rate:{name}" for name in SHARES))
KEYS = {key: place for place, key in enumerate(ROLES)}


def context(rate: float | None = RATE, setpoints: bool = False) -> Context:
    sensors = [{"tag": key, "role": key.split(":")[0], "at": key.partition(":")[2]} for key in ROLES]
    sensors += [{"tag": f"set {name}", "role": "feeder_setpoint", "at": name} for name in SHARES if setpoints]
    line = Line.model_validate(
        {
            "format": 1,
            "line": {"name": "L", "kind": "twin-screw"},
            "feeder": [{"name": name} for name in SHARES],
            "sensor": sensors,
        }
    )
    recipe = {"name": "R", **({"rate_kg_h": rate} if rate else {})}
    return Context(line, Recipe.model_validate({"format": 1, "recipe": recipe, "shares": SHARES}), None, step_s=10.0)


def log(seed: int = 3) -> np.ndarray:
    """An hour of steady running, [channel, cell]: rates scatter by 1.5 %, load and speed a little."""
    rng = np.random.default_rng(seed)
    rows = np.ones((len(ROLES), CELLS)) + 0.015 * rng.standard_normal((len(ROLES), CELLS))
    usual = np.array([300.0, 60.0, *(RATE * share / 100 for share in SHARES.values())])
    rows[:2] = 1 + (rows[:2] - 1) / 5
    return rows * usual[:, None]


def ramp(to: float, over_s: float, first: int = AT) -> np.ndarray:
    return np.interp(np.arange(CELLS), [first, first + over_s / 10], [1.0, to])


def judged(values: np.ndarray, ctx: Context, cuts: tuple[int, ...] = ()) -> tuple[asked_rate.Asked, str]:
    state: Any = asked_rate.start(ctx)
    parts = []
    for part in np.split(values, cuts, axis=1):
        state, asked = asked_rate.advance(state, Readings(0, 10**10, KEYS, part, part), ctx)
        parts.append(asked)
    whole = [np.concatenate([getattr(one, name) for one in parts]) for name in ("factor", "total", "together")]
    return asked_rate.Asked(*whole), dump_state(state)


def trimmed(to: float, over_s: float) -> np.ndarray:
    x = log()
    x[2:] *= ramp(to, over_s)
    x[1] *= ramp(to, over_s) ** 0.9
    return x


@pytest.mark.parametrize("rate", [RATE, None], ids=["rate in the recipe", "no rate in the recipe"])
@pytest.mark.parametrize(("to", "over_s"), [(1.08, 60), (0.85, 20), (0.75, 240), (1.12, 0)])
def test_rates_that_move_by_one_factor_are_told_to(to: float, over_s: float, rate: float | None) -> None:
    asked, _ = judged(trimmed(to, over_s), context(rate))

    assert (asked.factor[60:AT] == 1.0).all()
    assert abs(asked.factor[-1] - to) <= 0.01 and abs(asked.total[-1] - to * RATE) <= 5.0
    known = AT + round(over_s / 10) + 18
    assert np.abs(asked.factor[known:] - to).max() <= 0.02, "within three minutes of its end"
    if to < 0.9:
        assert asked.together[AT : AT + 12].any(), "seen before it is followed"


def test_nothing_moves_in_an_undisturbed_hour() -> None:
    asked, _ = judged(log(), context())

    assert (asked.factor == 1.0).all() and not asked.together.any()


@pytest.mark.parametrize("feeder", [0, 1, 2])
@pytest.mark.parametrize("left", [0.0, 0.5, 0.85])
def test_one_feeder_that_brings_less_is_not_told_to(feeder: int, left: float) -> None:
    x = log()
    x[2 + feeder] *= ramp(left, 10)
    x[1] *= ramp(1 - (1 - left) * list(SHARES.values())[feeder] / 100, 10)
    asked, _ = judged(x, context())

    assert (asked.factor == 1.0).all() and not asked.together.any()


def test_feeders_that_stand_in_their_own_material_are_not_told_to() -> None:
    """The chute is blocked: the load goes first, the rates some minutes after it, all by one share."""
    x = log()
    x[1] *= ramp(0.4, 10)
    x[2:] *= ramp(0.8, 60, AT + 30)
    asked, _ = judged(x, context())

    assert (asked.factor == 1.0).all() and not asked.together[AT:].any()


def test_feeders_that_are_switched_off_and_on_again_are_asked_for_the_same() -> None:
    x = log()
    x[1:, AT : AT + 60] = 0.0
    asked, _ = judged(x, context())

    assert (asked.factor == 1.0).all()


def test_a_feeder_that_fails_after_a_trim_leaves_what_was_asked_then() -> None:
    x = trimmed(0.8, 30)
    x[2, AT + 90 :] = 0.0
    asked, _ = judged(x, context())

    assert np.abs(asked.factor[AT + 40 :] - 0.8).max() <= 0.02


def test_where_set_points_are_logged_they_tell() -> None:
    asked, _ = judged(trimmed(0.8, 30), context(setpoints=True))

    assert (asked.factor == 1.0).all() and np.isnan(asked.total).all() and not asked.together.any()


@pytest.mark.parametrize("rate", [RATE, None])
@pytest.mark.parametrize("cuts", [(1, 2, 190), tuple(range(1, CELLS)), (AT + 5, AT + 7, AT + 11)])
def test_every_cut_gives_the_same_bits(cuts: tuple[int, ...], rate: float | None) -> None:
    x = trimmed(0.75, 120)
    x[3, 300:] *= 0.5
    whole, state = judged(x, context(rate))
    again, cut_state = judged(x, context(rate), cuts)

    assert np.array_equal(whole.factor, again.factor) and np.array_equal(whole.together, again.together)
    assert np.array_equal(whole.total, again.total, equal_nan=True) and state == cut_state
