"""A purge between two products: what is shut off together on purpose, and what has failed instead."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

from monitor import phases, purge
from monitor.contract import Context
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.view import Readings

S = 1_000_000_000
RATES = {"F1": 300.0, "F2": 90.0, "F3": 6.0}
CALM, PURGED, AFTER = 60, 60, 60
BEGINS, ENDS = CALM, CALM + PURGED


def context(feeders: tuple[str, ...] = ("F1", "F2", "F3"), setpoints: bool = False) -> Context:
    sensors = [{"tag": "n", "role": "screw_speed"}]
    sensors += [{"tag": f"q{f}", "role": "feeder_rate", "at": f} for f in feeders]
    if setpoints:
        sensors += [{"tag": f"s{f}", "role": "feeder_setpoint", "at": f} for f in feeders]
    line = Line.model_validate(
        {
            "format": 1,
            "line": {"name": "L", "kind": "twin-screw"},
            "feeder": [{"name": f} for f in feeders],
            "sensor": sensors,
        }
    )
    total = sum(RATES[f] for f in feeders)
    recipe = Recipe.model_validate(
        {
            "format": 1,
            "recipe": {"name": "R", "rate_kg_h": total, "screw_speed_rpm": 200},
            "shares": {f: 100 * RATES[f] / total for f in feeders},
        }
    )
    return Context(line, recipe, None, 10.0)


def log(ctx: Context, purged: dict[str, float], asked: dict[str, float] | None = None, cells: int = PURGED) -> Any:
    """Calm, then so much of each feeder and of the speed ('n'), then as before; rates lag as filtered ones do."""
    keys = ctx.line.channels
    out = np.zeros((len(keys), CALM + cells + AFTER))
    for row, key in enumerate(keys):
        name = key.split(":")[-1] if ":" in key else "n"
        usual = RATES.get(name, 200.0)
        share = purged.get(name, 1.0)
        if key.startswith("feeder_setpoint"):
            share = (asked or purged).get(name, 1.0)
        out[row] = usual
        out[row, CALM : CALM + cells] = usual * share
        if key.startswith("feeder_rate"):
            for i in range(1, out.shape[1]):
                out[row, i] = 0.4 * out[row, i - 1] + 0.6 * out[row, i]
    return out


def phases_of(ctx: Context, values: Any, cuts: tuple[int, ...] = (), recipe_at: int | None = None) -> list[str]:
    index = {key: place for place, key in enumerate(ctx.line.channels)}
    state, names = phases.start(ctx), []
    edges = sorted({0, *cuts, values.shape[1], *(() if recipe_at is None else (recipe_at,))})
    for first, last in itertools.pairwise(edges):
        if first == recipe_at:
            state = phases.recipe_changed(state)
        part = values[:, first:last]
        state, run = phases.advance(state, Readings(first * 10 * S, 10 * S, index, part, part), ctx)
        names += [phases.PHASES[code] for code in run.phase.tolist()]
    return names


ALL_BUT_ONE = {"F1": 0.5, "F2": 0.0, "F3": 0.0, "n": 0.8}


@pytest.mark.parametrize("setpoints", [False, True])
def test_a_purge_with_the_main_polymer_is_one_from_its_first_minute_to_its_end(setpoints: bool) -> None:
    ctx = context(setpoints=setpoints)
    values = log(ctx, ALL_BUT_ONE)
    names = phases_of(ctx, values)

    assert set(names[BEGINS + 6 : ENDS]) == {"purging"} and "purging" not in names[:BEGINS]
    assert names[ENDS] == "changing" and names[-1] == "steady"
    assert names == phases_of(ctx, values, tuple(range(1, values.shape[1])))


def test_what_is_missing_for_longer_than_anybody_purges_is_missed() -> None:
    ctx = context()
    names = phases_of(ctx, log(ctx, ALL_BUT_ONE, cells=300))

    assert 170 <= names.count("purging") <= 180
    assert names[CALM + 250] == "steady"


@pytest.mark.parametrize(
    ("feeders", "purged", "asked"),
    [
        (("F1", "F2", "F3"), {"F1": 0.5, "F2": 0.0, "n": 0.8}, None),
        (("F1", "F2", "F3"), {"F1": 0.5, "F2": 0.0, "F3": 0.0}, None),
        (("F1", "F2", "F3"), ALL_BUT_ONE, {"F1": 0.5, "n": 0.8}),
        (("F1", "F2"), {"F2": 0.0, "n": 0.8}, None),
        (("F1", "F2", "F3"), {"F1": 0.0, "F2": 0.0, "F3": 0.0, "n": 0.8}, None),
    ],
    ids=["one feeder goes on beside", "speed as before", "still asked for", "one alone, the other as before", "a stop"],
)
def test_what_fails_is_no_purge(feeders: tuple[str, ...], purged: dict[str, float], asked: Any) -> None:
    ctx = context(feeders, setpoints=asked is not None)

    assert "purging" not in phases_of(ctx, log(ctx, purged, asked))


@pytest.mark.parametrize(("recipe_at", "purges"), [(CALM - 30, True), (CALM, True), (None, False)])
def test_one_of_two_alone_is_shut_off_where_the_recipe_has_just_become_another(
    recipe_at: int | None, purges: bool
) -> None:
    ctx = context(("F1", "F2"))
    names = phases_of(ctx, log(ctx, {"F2": 0.0, "n": 0.8}), recipe_at=recipe_at)

    assert ("purging" in names) is purges


def test_a_filler_that_went_twenty_minutes_after_the_recipe_did_has_failed() -> None:
    ctx = context(("F1", "F2"))
    values = np.concatenate((np.repeat(log(ctx, {})[:, :1], 90, axis=1), log(ctx, {"F2": 0.0, "n": 0.8})), axis=1)

    assert purge.CHANGED_S < (90 + CALM - 20) * 10
    assert "purging" not in phases_of(ctx, values, recipe_at=20)
