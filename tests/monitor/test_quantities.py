"""Derived quantities: values against worked examples, one plan in which each is made once, after what it needs."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from ingest.roles import ROLES
from monitor import quantities
from monitor.contract import Context
from monitor.line import Line
from monitor.materials import material
from monitor.quantities import LEARNED, QUANTITIES
from monitor.quantities.asked_rate import as_planned
from monitor.quantities.load import load_words
from monitor.quantities.plan import Plan
from monitor.recipe import Recipe
from monitor.view import Readings

S = 1_000_000_000
NAN = float("nan")


def context(
    roles: dict[str, str],
    kind: str = "twin-screw",
    geometry: dict[str, float] | None = None,
    drive: dict[str, float] | None = None,
    recipe: dict[str, Any] | None = None,
    relative: tuple[str, ...] = (),
) -> Context:
    """roles: channel key -> anything."""
    sensors = []
    for key in roles:
        role, _, at = key.partition(":")
        sensors.append({"tag": key, "role": role, "at": at, "unit": "relative" if key in relative else ""})
    feeders = sorted({key.partition(":")[2] for key in roles if key.startswith("feeder")})
    line = Line.model_validate(
        {
            "format": 1,
            "line": {"name": "L", "kind": kind},
            "geometry": geometry or {},
            "drive": drive or {},
            "feeder": [{"name": name} for name in feeders],
            "sensor": sensors,
        }
    )
    given = None if recipe is None else Recipe.model_validate({"format": 1, "recipe": {"name": "R", **recipe}})
    return Context(line, given, None, 10.0)


def values_of(ctx: Context, cells: dict[str, Any]) -> dict[str, np.ndarray]:
    """Every quantity the line can give, from channel -> one value a cell."""
    rows = np.array([np.atleast_1d(cells[key]) for key in ctx.line.channels], float)
    index = {key: place for place, key in enumerate(ctx.line.channels)}
    plan = quantities.plan(ctx)
    readings = Readings(0, 10 * S, index, rows, rows)
    _, made = plan.advance(plan.start(ctx), readings, np.zeros(rows.shape[1], np.int8), as_planned(rows.shape[1]), ctx)
    return dict(made)


C3 = {"screw_diameter_mm": 40, "diameter_ratio": 1.55, "lead_mm": 40, "length_over_diameter": 40, "mean_fill": 0.4}
"""Worked example: fill of a two-lobed conveying element, Q / (rho N k V_rev) with k = 0.5, and f V rho / Q."""


def test_fill_residence_and_specific_throughput_of_the_worked_example() -> None:
    """Forms: common practice; free area after Booy, Polym. Eng. Sci. 18, 973 (1978), from memory. Recomputed."""
    ctx = context(
        {"screw_speed": "", "line_rate": ""},
        geometry=C3,
        recipe={"bulk_density_kg_m3": 750, "melt_density_kg_m3": 750},
    )
    got = values_of(ctx, {"screw_speed": 300.0, "line_rate": 100.0})

    assert round(got["fill"][0], 6) == 0.424745
    assert round(got["residence_time"][0], 4) == 15.0679
    assert round(got["specific_throughput"][0], 6) == 0.333333
    at_full = values_of(ctx, {"screw_speed": 300.0, "line_rate": 235.4355})
    assert round(at_full["fill"][0], 6) == 1.0


def test_power_and_specific_energy_of_the_worked_example() -> None:
    """Form with motor kW, torque %, speed ratio and gearbox factor over kg/h, as trade articles on scale-up use it."""
    drive = {"rated_power_kw": 75, "rated_speed_rpm": 600, "efficiency": 0.97, "no_load_torque_pct": 8}
    ctx = context({"screw_speed": "", "line_rate": "", "torque": ""}, drive=drive, recipe={"rate_kg_h": 300})
    got = values_of(ctx, {"screw_speed": 450.0, "line_rate": 300.0, "torque": 80.0})

    assert got["net_torque"][0] == 72.0
    assert round(got["shaft_power"][0], 2) == 43.65
    assert round(got["sme"][0], 4) == 0.1455
    net = got["sme"][0] * 72 / 80
    assert round(net, 5) == 0.13095


def test_power_from_current_is_the_same_power() -> None:
    """50 A at rated torque, 30 A of it field: 80 % torque draws sqrt(30^2 + 0.8 * (50^2 - 30^2)) A."""
    drive = {
        "rated_power_kw": 75, "rated_speed_rpm": 600, "no_load_torque_pct": 8,
        "rated_current_a": 50, "magnetising_current_a": 30,
    }  # fmt: skip
    ctx = context({"screw_speed": "", "line_rate": "", "motor_current": ""}, drive=drive, recipe={"rate_kg_h": 300})
    amps = math.sqrt(30**2 + 0.8**2 * (50**2 - 30**2))
    got = values_of(ctx, {"screw_speed": 450.0, "line_rate": 300.0, "motor_current": amps})

    assert got["net_torque"][0] == pytest.approx(72.0, abs=1e-9)
    assert got["shaft_power"][0] == pytest.approx(43.65, abs=1e-9)


def test_power_that_the_drive_reports_goes_through_the_gearbox_once() -> None:
    drive = {"rated_power_kw": 75, "rated_speed_rpm": 600, "efficiency": 0.97}
    ctx = context({"screw_speed": "", "drive_power": ""}, drive=drive)
    got = values_of(ctx, {"screw_speed": 450.0, "drive_power": 45.0})

    assert got["shaft_power"][0] == pytest.approx(43.65)
    assert got["net_torque"][0] == pytest.approx(72.0)


@pytest.mark.parametrize("speed", [0.0, 0.2, 20.0])
def test_power_of_a_drive_that_hardly_turns_says_nothing_of_the_torque(speed: float) -> None:
    """0.8 kW of the drive's own at 0.2 rpm would be 3200 % of its rated torque."""
    ctx = context({"screw_speed": "", "drive_power": ""}, drive={"rated_power_kw": 75, "rated_speed_rpm": 600})
    got = values_of(ctx, {"screw_speed": speed, "drive_power": 0.8})

    assert math.isnan(got["net_torque"][0])


def test_drag_flow_of_the_text_book_screw() -> None:
    """Groover, Fundamentals of Modern Manufacturing, example 13.1: 53,525e-9 m3/s at 1 rev/s; value from memory."""
    ctx = context(
        {"screw_speed": ""},
        "single-screw",
        {"screw_diameter_mm": 75, "channel_depth_mm": 6, "helix_angle_deg": 20},
        recipe={"melt_density_kg_m3": 1000},
    )
    kg_h = values_of(ctx, {"screw_speed": 60.0})["drag_flow"][0]

    assert kg_h / 3600 / 1000 == pytest.approx(53_525e-9, rel=1e-4)


def test_shares_of_the_worked_example() -> None:
    """180, 60 and 10 kg/h are 72, 24 and 4 %; with the second 5 % low 72.874494, 23.076923 and 4.048583 %."""
    ctx = context({"feeder_rate:F1": "", "feeder_rate:F2": "", "feeder_rate:F3": ""})
    got = values_of(ctx, {"feeder_rate:F1": [180, 180], "feeder_rate:F2": [60, 57], "feeder_rate:F3": [10, 10]})

    shares = [[round(v, 6) for v in got[f"share:F{i}"].tolist()] for i in (1, 2, 3)]
    assert shares == [[72.0, 72.874494], [24.0, 23.076923], [4.0, 4.048583]]
    assert got["total_feed"].tolist() == [250.0, 247.0]


def test_specific_energy_is_blank_below_a_quarter_of_the_wanted_rate() -> None:
    drive = {"rated_power_kw": 75, "rated_speed_rpm": 600}
    ctx = context({"screw_speed": "", "line_rate": "", "torque": ""}, drive=drive, recipe={"rate_kg_h": 100})
    cells = {"screw_speed": [300.0] * 3, "line_rate": [24.9, 25.0, 0.0], "torque": [50.0] * 3}

    assert np.isnan(values_of(ctx, cells)["sme"]).tolist() == [True, False, True]


def test_one_feeder_without_a_reading_makes_the_sum_unknown() -> None:
    ctx = context({"feeder_rate:F1": "", "feeder_rate:F2": ""})
    got = values_of(ctx, {"feeder_rate:F1": 80.0, "feeder_rate:F2": NAN})

    assert all(np.isnan(got[name]).all() for name in ("total_feed", "share:F1", "share:F2"))


def test_a_standing_screw_has_no_specific_throughput_or_fill() -> None:
    ctx = context({"screw_speed": "", "line_rate": ""}, geometry=C3)
    got = values_of(ctx, {"screw_speed": 0.0, "line_rate": 5.0})

    assert np.isnan(got["specific_throughput"]).all() and np.isnan(got["fill"]).all()


@pytest.mark.parametrize(
    ("roles", "recipe", "wanted"),
    [
        (("feeder_rate:F1", "feeder_rate:F2", "feeder_setpoint:F1", "feeder_setpoint:F2"), None, 100.0),
        (("feeder_rate:F1", "feeder_rate:F2", "feeder_setpoint:F1"), {"rate_kg_h": 120}, 120.0),
        (("feeder_rate:F1", "feeder_rate:F2", "feeder_setpoint:F1"), None, NAN),
        (("line_rate", "feeder_setpoint:F1"), None, 80.0),
        (("line_rate", "line_rate_setpoint"), {"rate_kg_h": 120}, 90.0),
        (("line_rate",), {"rate_kg_h": 120}, 120.0),
        (("line_rate",), None, NAN),
    ],
)
def test_rate_wanted_is_of_the_same_feeders_as_rate_fed(roles: Any, recipe: Any, wanted: float) -> None:
    """A set-point for one of two feeders says nothing of what both should deliver."""
    cells = {
        "feeder_rate:F1": 80.0, "feeder_rate:F2": 20.0, "feeder_setpoint:F1": 80.0, "feeder_setpoint:F2": 20.0,
        "line_rate": 100.0, "line_rate_setpoint": 90.0,
    }  # fmt: skip
    ctx = context(dict.fromkeys(roles, ""), recipe=recipe)

    np.testing.assert_equal(values_of(ctx, cells)["total_setpoint"][0], wanted)


@pytest.mark.parametrize("role", ["torque", "motor_current", "drive_power"])
def test_of_a_load_in_an_unknown_unit_nothing_is_taken_off_and_no_power_made(role: str) -> None:
    """0.6 of something less 8 percent of something else would be a negative torque, and no test could judge it."""
    drive = {"rated_power_kw": 75, "rated_speed_rpm": 600, "rated_current_a": 100}
    ctx = context({"screw_speed": "", role: ""}, drive=drive, relative=(role,))
    got = values_of(ctx, {"screw_speed": 300.0, role: 0.6})

    assert got["net_torque"][0] == (0.6 / 300 if role == "drive_power" else 0.6)
    assert "shaft_power" not in got and "sme" not in got


def test_rates_in_an_unknown_unit_have_no_sum_no_wanted_rate_and_no_shares() -> None:
    ctx = context({"feeder_rate:F1": "", "feeder_rate:F2": ""}, relative=("feeder_rate:F1",))

    assert not quantities.plan(ctx).names


def test_melt_density_is_the_recipes_else_the_materials_else_a_usual_one() -> None:
    bare = context({"screw_speed": "", "line_rate": ""}, geometry=C3)
    cells = {"screw_speed": 300.0, "line_rate": 100.0}
    polymer = material("PP")

    usual = values_of(bare, cells)["residence_time"][0]
    by_material = values_of(replace(bare, material=polymer), cells)["residence_time"][0]

    assert by_material / usual == pytest.approx(polymer.melt_density_kg_m3.middle / 800)


def test_volume_after_the_screw_adds_to_the_residence_time() -> None:
    """0.5 L at 100 kg/h and 750 kg/m3 is 13.5 s."""
    cells, recipe = {"screw_speed": 300.0, "line_rate": 100.0}, {"melt_density_kg_m3": 750}
    without = context(dict.fromkeys(cells, ""), geometry=C3, recipe=recipe)
    with_die = context(dict.fromkeys(cells, ""), geometry={**C3, "downstream_volume_l": 0.5}, recipe=recipe)

    longer = values_of(with_die, cells)["residence_time"][0] - values_of(without, cells)["residence_time"][0]
    assert longer == pytest.approx(13.5)


def test_fill_at_the_throat_counts_only_what_enters_there() -> None:
    """F2 feeds from the side: the throat sees 80 of 100 kg/h."""
    keys = {"screw_speed": "", "feeder_rate:F1": "", "feeder_rate:F2": ""}
    ctx = context(keys, geometry=C3, recipe={"bulk_density_kg_m3": 750})
    cells = {"screw_speed": 300.0, "feeder_rate:F1": 80.0, "feeder_rate:F2": 20.0}
    side = ctx.line.model_copy(
        update={"feeder": tuple(f.model_copy(update={"side": f.name == "F2"}) for f in ctx.line.feeder)}
    )

    whole = values_of(ctx, cells)["fill"][0]
    throat = values_of(replace(ctx, line=side), cells)["fill"][0]

    assert round(whole, 6) == 0.424745 and throat == pytest.approx(0.8 * whole)


def test_melt_pump_turns_per_screw_turn() -> None:
    ctx = context({"screw_speed": "", "melt_pump_speed": ""}, kind="single-screw")
    got = values_of(ctx, {"screw_speed": [60.0, 0.0], "melt_pump_speed": [30.0, 30.0]})

    assert got["pumped_per_turn"][0] == 0.5 and math.isnan(got["pumped_per_turn"][1])


FULL = {
    "screw_speed": "", "torque": "", "feeder_rate:F1": "", "feeder_rate:F2": "", "feeder_setpoint:F1": "",
    "feeder_setpoint:F2": "",
}  # fmt: skip
DRIVE = {"rated_power_kw": 75, "rated_speed_rpm": 600}


def test_each_comes_after_what_it_needs() -> None:
    ordered = quantities.plan(context(FULL, geometry=C3, drive=DRIVE)).ordered
    place = {quantity.name: number for number, quantity in enumerate(ordered)}

    assert len(place) == len(ordered) == 14
    for quantity in ordered:
        assert all(place[need] < place[quantity.name] for need in quantity.needs), quantity.name


def test_each_is_computed_once_however_many_ask_for_it() -> None:
    ctx = context(FULL, geometry=C3, drive=DRIVE)
    calls: list[str] = []

    def counted(quantity: Any) -> Any:
        def cells(state: Any, inputs: Any) -> Any:
            calls.append(quantity.name)
            return quantity.cells(state, inputs)

        return replace(quantity, cells=cells)

    plan = Plan(tuple(counted(quantity) for quantity in quantities.plan(ctx).ordered))
    rows = np.ones((len(ctx.line.channels), 4))
    index = {key: place for place, key in enumerate(ctx.line.channels)}
    plan.advance(plan.start(ctx), Readings(0, 10 * S, index, rows, rows), np.zeros(4, np.int8), as_planned(4), ctx)

    assert sorted(calls) == sorted(plan.names)


@pytest.mark.parametrize(
    ("missing", "gone"),
    [
        ("torque", {"net_torque", "shaft_power", "sme"}),
        ("screw_speed", {"specific_throughput", "fill", "shaft_power", "sme"}),
        ("feeder_rate:F2", {f"{name}:F{n}" for name in ("share", "die_flow", "die_share") for n in (1, 2)}),
    ],
)
def test_what_needs_a_channel_that_is_not_logged_is_left_out(missing: str, gone: set[str]) -> None:
    whole = quantities.plan(context(FULL, geometry=C3, drive=DRIVE)).names
    less = {key: "" for key in FULL if key != missing}

    assert whole - quantities.plan(context(less, geometry=C3, drive=DRIVE)).names == gone


def test_geometry_that_is_not_stated_leaves_out_what_needs_it() -> None:
    names = quantities.plan(context(FULL, drive=DRIVE)).names

    assert not names & {"fill", "residence_time", "drag_flow"}


def test_every_need_and_every_learned_name_exists() -> None:
    names = {quantity.name for quantity in QUANTITIES}

    assert len(names) == len(QUANTITIES)
    assert all(need in names for quantity in QUANTITIES for need in quantity.needs)
    assert all(name in names or name in ROLES for name in LEARNED)


@pytest.mark.parametrize(
    ("roles", "relative", "words"),
    [
        (("torque",), (), ("net torque", "%")),
        (("torque",), ("torque",), ("torque", "")),
        (("motor_current",), (), ("motor current", "A")),
        (("motor_current",), ("motor_current",), ("motor current", "")),
    ],
)
def test_a_load_in_an_unknown_unit_has_none(
    roles: tuple[str, ...], relative: tuple[str, ...], words: tuple[str, str]
) -> None:
    assert load_words(context(dict.fromkeys((*roles, "screw_speed"), ""), relative=relative)) == words
