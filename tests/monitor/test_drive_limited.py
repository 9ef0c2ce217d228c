"""No normal value is learned from a drive that its limit holds back."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.contract import Context
from monitor.drive_limited import drive_limited
from monitor.view import Readings
from tests.monitor.scripted_world import scripted_line

NAN = float("nan")


def limited(torque: float, speed: float, wanted: float, *, without: tuple[str, ...] = ()) -> bool:
    """At one cell; torque in percent of rated, speeds in rpm; the line's limit is 100 %."""
    line = scripted_line()
    line = line.model_copy(update={"sensor": tuple(s for s in line.sensor if s.key not in without)})
    assert line.drive.torque_limit_pct == 100
    read = {"torque": torque, "screw_speed": speed, "screw_speed_setpoint": wanted}
    values = np.array([[read.get(key, NAN)] for key in line.channels])
    rows = {key: row for row, key in enumerate(line.channels)}
    (found,) = drive_limited(Readings(0, 10**10, rows, values, values), Context(line, None, None, 10.0))
    return bool(found)


@pytest.mark.parametrize(
    ("torque", "speed", "wanted", "held_back"),
    [
        pytest.param(100, 390, 530, True, id="the limiter holds the speed down"),
        pytest.param(97, 530, 530, False, id="a line that works its drive hard, at its speed"),
        pytest.param(60, 390, 530, False, id="a speed that is wrongly scaled, or another set-point leads"),
        pytest.param(100, 390, NAN, False, id="what is wanted is not known now"),
        pytest.param(NAN, 390, 530, False, id="the load is not known now"),
    ],
)
def test_whether_the_limit_holds_the_drive_back(torque: float, speed: float, wanted: float, held_back: bool) -> None:
    assert limited(torque, speed, wanted) is held_back


def test_without_a_set_point_the_load_alone_tells() -> None:
    without = ("screw_speed_setpoint",)

    assert limited(100, 390, NAN, without=without) and not limited(99, 390, NAN, without=without)


def test_without_a_load_nothing_is_said() -> None:
    assert not limited(100, 390, 530, without=("torque",))
