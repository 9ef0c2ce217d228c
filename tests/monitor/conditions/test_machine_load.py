"""Which pressure judges the extruder, torque however it is logged, and what widens its limits."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.conditions.machine_load import gross_torque_pct, judging_sensors, load
from monitor.contract import Context
from monitor.line import Line
from monitor.view import CoarseView
from tests.monitor.conditions.told import TWIN

S = 1_000_000_000


def line_of(*sensors: dict[str, str], drive: dict[str, float] | None = None) -> Line:
    return Line.model_validate(
        {
            "format": 1,
            "line": {"name": "L", "kind": "twin-screw"},
            "drive": drive or {},
            "zone": [{"name": "Z5"}, {"name": "AD", "kind": "adapter"}, {"name": "DIE", "kind": "die"}],
            "feeder": [{"name": "F1"}, {"name": "F2"}],
            "sensor": [{"tag": f"t{place}", **sensor} for place, sensor in enumerate(sensors)],
        }
    )


def pressure(at: str, position: str = "") -> dict[str, str]:
    return {"role": "melt_pressure", "at": at, "position": position}


PUMP = {"role": "melt_pump_speed"}


@pytest.mark.parametrize(
    ("sensors", "best"),
    [
        ((pressure("P1"),), ("P1",)),
        ((pressure("A", "after_screen"), pressure("B", "before_screen")), ("B",)),
        ((pressure("DIE"), pressure("AD")), ("AD",)),
        ((pressure("Z5"), pressure("P1")), ("P1",)),
        ((pressure("V", "vent"), pressure("Z5")), ("Z5",)),
        ((pressure("DIE"), pressure("S", "pump_suction"), PUMP), ("S",)),
        ((pressure("D", "pump_discharge"), pressure("B", "before_screen"), PUMP), ("B",)),
    ],
    ids=["the only one", "before the screen", "adapter", "not the barrel", "never a vent", "suction", "not behind it"],
)
def test_the_pressure_that_judges_the_extruder(sensors: tuple[dict[str, str], ...], best: tuple[str, ...]) -> None:
    assert judging_sensors(Context(line_of(*sensors), None, None, 10.0))[0] == best


def test_behind_a_melt_pump_no_pressure_judges_the_extruder() -> None:
    sensors = (pressure("DIE"), pressure("P1"), pressure("D", "pump_discharge"), PUMP)

    assert judging_sensors(Context(line_of(*sensors), None, None, 10.0)) == ()


def view_of(line: Line, cells: dict[str, float], expected: dict[str, float]) -> CoarseView:
    index = {key: place for place, key in enumerate(line.channels)}
    rows = np.array([[cells.get(key, np.nan)] for key in line.channels])
    made = {name: np.array([value]) for name, value in cells.items() if name not in index}
    wanted = {name: np.array([value]) for name, value in expected.items()}
    scatter = {name: 0.01 * value for name, value in wanted.items()}
    return CoarseView(0, 10 * S, index, rows, rows, quantities=made, expected=wanted, scatter=scatter)


def test_pressure_is_taken_from_the_best_place_that_has_an_expectation() -> None:
    line = line_of(pressure("B", "before_screen"), pressure("A", "after_screen"))
    ctx = Context(line, None, None, 10.0)
    cells = {"melt_pressure:B": 90.0, "melt_pressure:A": 40.0}

    both = load(view_of(line, cells, {"melt_pressure:B": 100.0, "melt_pressure:A": 50.0}), ctx)
    one = load(view_of(line, cells, {"melt_pressure:A": 50.0}), ctx)

    assert both.pressure[0] == pytest.approx(np.log(0.9))
    assert one.pressure[0] == pytest.approx(np.log(0.8))


def test_a_part_filled_stretch_gives_no_ratio_of_zero_errors() -> None:
    line = line_of(pressure("Z5"))
    found = load(view_of(line, {"melt_pressure:Z5": 1.0}, {"melt_pressure:Z5": 2.0}), Context(line, None, None, 10.0))

    assert np.isnan(found.pressure[0])


@pytest.mark.parametrize("field", [None, 20.0, 45.0])
def test_torque_at_rated_current_is_rated_torque_whatever_magnetises(field: float | None) -> None:
    drive = {"rated_current_a": 100.0} | ({} if field is None else {"magnetising_current_a": field})
    line = line_of({"role": "motor_current"}, {"role": "screw_speed"}, drive=drive)
    ctx = Context(line, None, None, 10.0)

    assert gross_torque_pct(view_of(line, {"motor_current": 100.0}, {}), ctx)[0] == pytest.approx(100.0)


def test_torque_from_power_and_speed() -> None:
    """75 kW at 600 rpm is 100 %: 30 kW at 300 rpm is 80 %."""
    line = line_of(
        {"role": "drive_power"}, {"role": "screw_speed"}, drive={"rated_power_kw": 75, "rated_speed_rpm": 600}
    )
    view = view_of(line, {"drive_power": 30.0, "screw_speed": 300.0}, {})

    assert gross_torque_pct(view, Context(line, None, None, 10.0))[0] == pytest.approx(80.0)


@pytest.mark.parametrize("sensor", [{"role": "motor_current"}, {"role": "torque", "unit": "relative"}])
def test_what_is_not_percent_of_rated_is_held_against_no_limit(sensor: dict[str, str]) -> None:
    line = line_of(sensor)
    role = sensor["role"]

    assert np.isnan(gross_torque_pct(view_of(line, {role: 90.0}, {}), Context(line, None, None, 10.0))[0])


def test_limits_widen_with_what_is_assumed() -> None:
    cells, expected = {"net_torque": 12.0}, {"net_torque": 12.0}

    def wider(role: str, **drive: float) -> float:
        line = line_of({"role": role}, drive=drive)
        return float(load(view_of(line, cells, expected), Context(line, None, None, 10.0)).wider[0])

    stated = {"no_load_torque_pct": 8.0}
    assert wider("torque", **stated) == 1.0
    assert wider("torque") == pytest.approx(1 + 0.5 * 8 / 12)
    assert wider("motor_current", rated_current_a=100.0, **stated) == pytest.approx(1.3)
    assert wider("motor_current", rated_current_a=100.0, magnetising_current_a=30.0, **stated) == 1.0
    assert wider("motor_current") == pytest.approx(0.6), "a raw current moves less than its torque"


@pytest.mark.parametrize(
    ("rates", "together"),
    [((85.0, 17.0), True), ((85.0, 20.0), False), ((100.0, 20.0), False), ((0.0, 0.0), True)],
)
def test_feeders_that_lie_the_same_share_below_set(rates: tuple[float, float], together: bool) -> None:
    sensors = [{"role": f"feeder_{what}", "at": name} for name in ("F1", "F2") for what in ("rate", "setpoint")]
    line = line_of(*sensors)
    cells = {"feeder_rate:F1": rates[0], "feeder_rate:F2": rates[1]}
    cells |= {"feeder_setpoint:F1": 100.0, "feeder_setpoint:F2": 20.0}

    assert bool(load(view_of(line, cells, {}), Context(line, None, None, 10.0)).fed_together[0]) is together


def test_the_scripted_line_is_judged_by_its_only_sensor() -> None:
    assert judging_sensors(Context(TWIN, None, None, 10.0)) == (("P1",),)
