"""The line file: what it means, and every mistake in it at once with key, value and what is allowed."""

from __future__ import annotations

import copy
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ingest.account import ReadingAccount
from ingest.channel_values import channel_values
from ingest.mapping import LogMapping
from ingest.roles import ROLES
from monitor.line import Line, read_line
from monitor.settings_file import SettingsError, validate

GOOD: dict[str, Any] = {
    "format": 1,
    "line": {"name": "Line 3", "kind": "twin-screw", "time_zone": "Europe/Madrid", "cadence_s": 2},
    "zone": [{"name": "Z1", "kind": "feed"}, {"name": "Z2"}, {"name": "DIE", "kind": "die"}],
    "feeder": [{"name": "F1", "at": "Z1"}, {"name": "F2"}],
    "vent": [{"name": "V1", "at": "Z2"}],
    "sensor": [
        {"tag": "TT2", "role": "zone_temperature", "at": "Z2", "unit": "F", "range": [0, 800], "hold_s": 5},
        {"tag": "TT1", "role": "zone_temperature", "at": "Z1"},
        {"tag": "N", "role": "screw_speed", "zero_is_missing": True},
        {"tag": "Q1", "role": "feeder_rate", "at": "F1", "unit": "lb/h"},
        {"tag": "I", "role": "motor_current", "unit": "relative"},
    ],
}


def changed(**given: Any) -> dict[str, Any]:
    return {**copy.deepcopy(GOOD), **given}


def problems(data: dict[str, Any]) -> list[str]:
    with pytest.raises(SettingsError) as error:
        validate(Line, data, Path("line.toml"))
    return error.value.problems


def with_sensor(**sensor: Any) -> dict[str, Any]:
    return changed(sensor=[*GOOD["sensor"], {"tag": "X", **sensor}])


def test_a_good_file() -> None:
    line = validate(Line, GOOD, Path("line.toml"))

    assert line.name == "Line 3" and line.zone_names == ("Z1", "Z2", "DIE")
    assert line.channels == (
        "zone_temperature:Z2", "zone_temperature:Z1", "screw_speed", "feeder_rate:F1", "motor_current",
    )  # fmt: skip
    assert line.relative_channels == {"motor_current"}
    assert line.feeder_named("F2").name == "F2" and line.zone_named("DIE").kind == "die"


def test_what_a_reader_must_know_of_it() -> None:
    mapping = validate(Line, changed(log={"line_column": "Line", "line_value": "3"}), Path("x")).mapping()

    assert (mapping.line, mapping.cadence_s, mapping.time_zone) == ("Line 3", 2, "Europe/Madrid")
    assert (mapping.line_column, mapping.line_value) == ("Line", "3")
    first, second = mapping.channels[:2]
    assert (first.tag, first.key, first.unit) == ("TT2", "zone_temperature:Z2", "F")
    assert (first.hold_s, first.low, first.high) == (5, 0, 800)
    assert (second.unit, second.hold_s, second.low) == ("C", ROLES["zone_temperature"].hold_s, None)
    assert mapping.zero_is_missing == ("N",)


def test_read_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "line.toml"
    path.write_text(
        'format = 1\n[line]\nname = "A"\nkind = "single-screw"\n[[sensor]]\ntag = "N"\nrole = "screw_speed"\n',
        encoding="utf-8",
    )
    line = read_line(path)

    assert (line.name, len(line.version)) == ("A", 12)
    path.write_text(path.read_text(encoding="utf-8") + "# a remark\n", encoding="utf-8")
    assert read_line(path).version != line.version


def test_every_mistake_of_a_file_at_once(tmp_path: Path) -> None:
    path = tmp_path / "line.toml"
    path.write_text(
        """format = 2
[line]
name = "A: B"
kind = "twinscrew"
time_zone = "Europe/Madird"
cadence_s = 0
[geometry]
screw_diameter_mm = -40
diameter_ratio = 3
[drives]
rated_power_kw = 75
[drive]
rated_power = 75
no_load_torque_pct = 120
[[zone]]
name = "Z1"
[[zone]]
name = "Z1"
kind = "barell"
[[feeder]]
name = "F1"
at = "Z9"
drive_limit_pct = 0
[[vent]]
name = "V1"
at = "Z8"
[[vent]]
name = "V1"
[[sensor]]
tag = "T1"
role = "zone_temprature"
at = "Z1"
[[sensor]]
tag = "T2"
role = "zone_temperature"
at = "Z7"
unit = "bar"
range = [300, 0]
[[sensor]]
tag = "T3"
role = "zone_temperature"
at = "Z1"
[[sensor]]
tag = "T4"
role = "zone_temperature"
at = "Z1"
[[sensor]]
role = "screw_speed"
""",
        encoding="utf-8",
    )
    with pytest.raises(SettingsError) as error:
        read_line(path)

    said = error.value.problems
    wanted = [
        ("format", "= 2", "allowed are 1"),
        ("line.name", "'A: B'"),
        ("line.kind", "'twinscrew'", "'twin-screw' or 'single-screw'"),
        ("line.cadence_s", "= 0", "0.1"),
        ("geometry.screw_diameter_mm", "= -40", "greater than 0"),
        ("geometry.diameter_ratio", "= 3", "less than 2.414"),
        ("drives", "did you mean 'drive'?"),
        ("drive.rated_power", "did you mean 'rated_power_kw'?"),
        ("drive.no_load_torque_pct", "= 120", "less than or equal to 100"),
        ("zone[2].kind", "'barell'", "'barrel'"),
        ("feeder[1].drive_limit_pct", "= 0", "greater than 0"),
        ("sensor[1]", "tag 'T1'", "'zone_temprature'", "did you mean 'zone_temperature'?"),
        ("sensor[2]", "tag 'T2'", "'bar'"),
        ("sensor[2]", "tag 'T2'", "range [300.0, 0.0] must rise"),
        ("sensor[5].tag", "is missing"),
        ("zone 'Z1' is there twice",),
        ("vent 'V1' is there twice",),
        ("sensor 'zone_temperature:Z1' is there twice",),
        ("sensor 'T2': at = 'Z7' is no zone of this line (Z1, Z1)",),
        ("feeder 'F1': at = 'Z9' is no zone of this line",),
        ("vent 'V1': at = 'Z8' is no zone of this line",),
    ]
    for words in wanted:
        assert any(all(word in sentence for word in words) for sentence in said), (words, said)
    assert str(error.value).startswith(f"{path}: {len(said)} mistakes\n")
    assert len(said) == len(wanted) - 1, "T2's two mistakes stand in one sentence"


def test_a_wrong_time_zone_alone() -> None:
    said = problems(changed(line={**GOOD["line"], "time_zone": "Europe/Madird"}))

    assert said == ["line: time_zone 'Europe/Madird' is not an IANA time zone, did you mean 'Europe/Madrid'?"]


@pytest.mark.parametrize(
    ("sensor", "said"),
    [
        ({"role": "zone_temperature"}, "role 'zone_temperature' needs `at`, the name of its zone"),
        ({"role": "melt_pressure"}, "role 'melt_pressure' needs `at`, the name of its sensor"),
        ({"role": "torque", "at": "Z1"}, "role 'torque' belongs to the whole line, leave `at` out"),
        ({"role": "torq"}, "no role 'torq', did you mean 'torque'?"),
        ({"role": "qqqqqq"}, "no role 'qqqqqq'; allowed: zone_temperature, zone_setpoint"),
        ({"role": "torque", "unit": "kg/h"}, "tag 'X': "),
        ({"role": "torque", "unit": "furlongs"}, "furlongs"),
        ({"role": "torque", "range": [5, 5]}, "range [5.0, 5.0] must rise"),
        ({"role": "torque", "hold_s": 0}, "hold_s = 0: must be greater than 0"),
        ({"role": "feeder_rate", "at": "Z1"}, "at = 'Z1' is no feeder of this line (F1, F2)"),
        ({"role": "vacuum", "at": "F1"}, "at = 'F1' is no vent of this line (V1)"),
    ],
)
def test_a_sensor_that_does_not_fit(sensor: dict[str, Any], said: str) -> None:
    found = problems(with_sensor(**sensor))

    assert len(found) == 1 and said in found[0]


@pytest.mark.parametrize("unit", ["F", "°C", "relative", "", "K"])
def test_units_of_the_role(unit: str) -> None:
    validate(Line, with_sensor(role="zone_temperature", at="DIE", unit=unit), Path("x"))


@pytest.mark.parametrize("name", ["", " ", "a:b", "x" * 41, "a\nb"])
def test_names_that_would_break_a_channel_key(name: str) -> None:
    assert any(sentence.startswith("zone[1].name") for sentence in problems(changed(zone=[{"name": name}])))


def test_the_long_layout_needs_its_columns() -> None:
    assert problems(changed(log={"layout": "long", "tag_column": "tag"})) == [
        "log: layout 'long' needs tag_column and value_column"
    ]


def test_a_line_without_a_sensor_watches_nothing() -> None:
    assert any(sentence.startswith("sensor") for sentence in problems(changed(sensor=[])))
    assert "sensor: is missing" in problems({key: value for key, value in GOOD.items() if key != "sensor"})


@pytest.mark.parametrize("junk", [3, "x", [3], [[]], {"name": "Z1"}, None])
@pytest.mark.parametrize("kind", ["zone", "feeder", "vent", "sensor"])
def test_nonsense_in_place_of_parts_is_a_mistake_not_a_crash(kind: str, junk: Any) -> None:
    assert problems(changed(**{kind: junk}))


def test_numbers_that_are_none() -> None:
    assert problems(changed(geometry={"screw_diameter_mm": math.inf})) == [
        "geometry.screw_diameter_mm = inf: must be a finite number"
    ]


def test_a_model_made_directly_is_held_to_the_same() -> None:
    with pytest.raises(ValueError, match="is no zone of this line"):
        Line.model_validate(with_sensor(role="zone_output", at="Z9"))


DRIVE = {"rated_power_kw": 55, "rated_speed_rpm": 600}
HOPPER = {"name": "H", "kind": "hopper", "hopper_kg": 60}


@pytest.mark.parametrize(
    ("sensor", "other", "full"),
    [
        # 55 kW at 600 rpm: P / omega = 55000 / 62.83 = 875.35 N m.
        ({"role": "torque", "unit": "N m"}, {"drive": DRIVE}, 875.35),
        ({"role": "torque", "unit": "Nm"}, {"drive": {**DRIVE, "rated_torque_nm": 900}}, 900),
        ({"role": "torque", "unit": "kN m"}, {"drive": DRIVE}, 0.87535),
        ({"role": "torque", "unit": "lbf ft"}, {"drive": DRIVE}, 645.62),
        ({"role": "torque", "unit": "N m", "full": 800}, {"drive": DRIVE}, 800),
        ({"role": "torque", "unit": "%"}, {"drive": DRIVE}, None),
        ({"role": "torque", "unit": "relative"}, {"drive": DRIVE}, None),
        ({"role": "hopper_level", "unit": "kg"}, {"feeder": [HOPPER]}, 60),
        ({"role": "hopper_level", "unit": "lb"}, {"feeder": [HOPPER]}, 132.28),
        ({"role": "hopper_level", "unit": "kg", "full": 45}, {}, 45),
        ({"role": "haul_off_load", "unit": "A", "full": 6.3}, {}, 6.3),
    ],
)
def test_a_share_may_be_logged_as_an_amount(sensor: dict[str, Any], other: dict[str, Any], full: float | None) -> None:
    data = {**with_sensor(**sensor), **other}
    data["sensor"] = [one for one in data["sensor"] if one["role"] not in ("feeder_rate", "motor_current")]

    source = validate(Line, data, Path("x")).mapping().channels[-1]

    assert source.full == (None if full is None else pytest.approx(full, rel=1e-4))
    readers = channel_values(LogMapping("L", 1.0, "UTC", (source,)), [], ReadingAccount())
    if full is not None:
        np.testing.assert_allclose(readers[0].in_unit(np.array([0.0, full / 2, full])), [0, 50, 100], rtol=1e-4)


@pytest.mark.parametrize(
    ("sensor", "said"),
    [
        (
            {"role": "torque", "unit": "N m"},
            "a torque in N m needs rated_power_kw and rated_speed_rpm, or rated_torque_nm",
        ),
        ({"role": "hopper_level", "unit": "kg"}, "a hopper in kg needs full, what it holds when it is full"),
        ({"role": "hopper_level", "unit": "kg"}, 'role = "feeder_weight"'),
        ({"role": "haul_off_load", "unit": "A"}, "give full, the reading that is 100 %"),
        ({"role": "torque", "unit": "kg"}, "give full, the reading that is 100 %"),
        ({"role": "torque", "full": 100}, "full = 100 is the reading that is 100 %, for a role in % in another unit"),
        ({"role": "screw_speed_setpoint", "unit": "rpm", "full": 100}, "for a role in % in another unit"),
    ],
)
def test_amounts_without_what_is_full(sensor: dict[str, Any], said: str) -> None:
    assert any(said in problem for problem in problems(with_sensor(**sensor))), problems(with_sensor(**sensor))
