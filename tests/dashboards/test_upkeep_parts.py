"""Every condition lands at its part, and consequences are no items."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from dashboards.check_places import check_place
from dashboards.memory_data import MemoryData
from dashboards.pages.upkeep_detail import item_title
from dashboards.said_forecast import said_forecast
from dashboards.sensor_checks import SensorCheck
from dashboards.upkeep_item import UpkeepItem
from dashboards.upkeep_items import upkeep_items
from dashboards.upkeep_panels import panels_of
from dashboards.upkeep_parts import apart, part_of, screen_alone
from monitor.conditions import screen_blinding
from monitor.conditions.registry import CONDITIONS
from monitor.contract import Context
from monitor.records import Evidence, Finding, Record
from tests.dashboards.lines import twin
from tests.dashboards.plant import END, SECOND, twin_line

LINE = twin_line()
HOUR = 3600 * SECOND


def record(condition: str, family: str, channel: str, **more: object) -> Record:
    base: dict = {
        "decided_at": END, "seq": 1, "finding": f"{condition}@{channel}", "kind": "opened", "line": "Line 3",
        "family": family, "condition": condition, "channel": channel, "since": END - HOUR, "until": None,
        "priority": 2, "confidence": "high", "summary": condition,
    }  # fmt: skip
    return Record(**{**base, **more})


@pytest.mark.parametrize(
    ("condition", "family", "channel", "part"),
    [
        ("heater_dead", "heater", "zone_output:Z4", ("zone", "Z4")),
        ("heater_dead", "heater", "zone_output", ("zone", "")),
        ("thermocouple_loose", "sensor", "zone_temperature:Z4", ("couple", "Z4")),
        ("pressure_zero_drift", "sensor", "melt_pressure:P1", ("sensor", "P1")),
        ("cooling_scaled", "over_temperature", "zone_temperature:Z4", ("cooling", "Z4")),
        ("cooling_scaled", "over_temperature", "cooling_water_temperature", ("cooling", "")),
        ("cooling_passing", "heater", "zone_output:Z4", ("cooling", "Z4")),
        ("throat_warm", "over_temperature", "throat_temperature", ("cooling", "throat")),
        ("feed_factor_moved", "feeder", "feeder_drive:F4", ("feeder", "F4")),
        ("screen_blinding", "pressure", "melt_pressure:P1", ("screen", "P1")),
        ("melt_pump_worn", "drive", "melt_pump_speed", ("pump", "")),
        ("gearbox", "drive", "gearbox_oil_pressure", ("gearbox", "")),
        ("torque_high", "drive", "torque", ("drive", "")),
        ("vacuum_off", "vacuum", "vacuum:V1", ("vent", "V1")),
        ("controller_stale", "data", "zone_temperature:Z1", ("link", "zone_temperature:Z1")),
        ("recipe_window", "window", "zone_temperature:Z4", None),
        ("moisture", "pressure", "melt_pressure:P1", None),
        ("share_wrong", "composition", "share:F4", None),
        ("one_of_next_year", "heater", "zone_current:Z2", ("zone", "Z2")),
    ],
)  # fmt: skip
def test_findings_land(condition: str, family: str, channel: str, part: tuple | None) -> None:
    assert part_of(LINE, record(condition, family, channel)) == part


def test_every_equipment_condition_of_the_registry_lands_where_the_line_has_it() -> None:
    ctx = Context(line=LINE, recipe=None, material=None, step_s=1.0)
    landed = 0
    for condition in CONDITIONS:
        if condition.family not in ("heater", "sensor", "feeder", "drive", "vacuum"):
            continue
        for subject in condition.subjects(ctx):
            part = part_of(LINE, record(condition.name, condition.family, condition.channel(subject)))
            landed += part is not None
            if part is not None and part[0] in ("zone", "couple"):
                assert part[1] in ("", *LINE.zone_names), condition.name
            if part is not None and part[0] == "feeder":
                assert part[1] in [f.name for f in LINE.feeder], condition.name
    assert landed > 100


def test_screen_is_told_from_the_die_only_with_a_pressure_between() -> None:
    assert not screen_alone(LINE)
    sensors = tuple(
        s.model_copy(update={"position": "after_screen"}) if s.key == "melt_pressure:P2" else s for s in LINE.sensor
    )
    between = LINE.model_copy(update={"sensor": sensors})
    assert screen_alone(between)
    assert part_of(between, record("die_plugging", "pressure", "melt_pressure:P2")) == ("die", "P2")


def test_one_screen_is_one_entry_with_one_count() -> None:
    """Two sensors of which the line file does not say that the screen is between them stand at one place."""
    held = twin()
    told = record("screen_blinding", "pressure", "melt_pressure:P2")
    data = MemoryData([replace(held, findings=[Finding(END, told)])], clock=lambda: END)
    (screen,) = (i for i in upkeep_items(data, "Line 3") if i.kind in ("screen", "die", "pressure"))
    assert screen.subject == "P1" and screen.keys == ("melt_pressure:P1", "melt_pressure:P2")
    assert [f.last.condition for f in screen.findings] == ["screen_blinding"]
    assert item_title(screen) == "screen or die, pressure P1, P2"
    assert re.search(r"P1 \d+.bar.*; P2 \d+.bar", screen.words)
    assert [p.title for p in panels_of(data, screen).panels] == ["P1 melt pressure", "P2 melt pressure"]

    sensors = tuple(
        s.model_copy(update={"position": "after_screen"}) if s.key == "melt_pressure:P2" else s
        for s in held.line.sensor
    )
    between = replace(held, line=held.line.model_copy(update={"sensor": sensors}))
    items = upkeep_items(MemoryData([between], clock=lambda: END), "Line 3")
    assert {(i.kind, i.title) for i in items if i.key.startswith("melt_pressure")} == {("screen", "P1"), ("die", "P2")}


def test_consequences_are_folded_but_never_priority_one() -> None:
    cause = Finding(END, record("heater_dead", "heater", "zone_output:Z4"))
    result = Finding(END, record("a", "sensor", "zone_temperature:Z4", part_of=cause.last.finding))
    first = Finding(END, replace(result.last, finding="x", priority=1))
    orphan = Finding(END, replace(result.last, finding="y", part_of="not here"))
    tops, folded = apart([cause, result, first, orphan])
    assert tops == [cause, first, orphan]
    assert folded == {cause.last.finding: (result,)}


def item(*findings: Finding, live: bool = True, **more: object) -> UpkeepItem:
    base: dict = {
        "line": "L", "kind": "zone", "subject": "Z4", "title": "Z4", "words": "", "key": "zone_output:Z4",
        "keys": ("zone_output:Z4",), "findings": findings, "stop": None, "strain": 0.2, "end": END, "live": live,
    }  # fmt: skip
    return UpkeepItem(**{**base, **more})


def test_order() -> None:
    heater = record("heater_dead", "heater", "zone_output:Z4")
    open_2 = item(Finding(END, heater))
    open_4 = item(Finding(END, replace(heater, priority=4)))
    soon, later = item(stop=(1800.0, 900.0, None)), item(stop=(6 * 3600.0, 3600.0, None))
    ended = item(Finding(END, replace(heater, kind="closed", until=END - HOUR // 2)))
    cut_off = item(Finding(END, replace(heater, kind="cut off", priority=1)), live=False)
    calm = item()
    doubt = item(checks=(SensorCheck("zone_temperature:Z4", 6.0, END - HOUR),))
    wanted = [open_2, soon, later, open_4, doubt, ended, cut_off, calm]
    backwards = wanted[::-1]
    assert sorted(backwards, key=UpkeepItem.order) == wanted


def test_forecast_of_a_finding_runs_down() -> None:
    told = tuple(
        Evidence(what, h, "h")
        for what, h in (("time to the limit", 4.0), ("at the earliest", 3.0), ("at the latest", 7.0))
    )
    said = record("screen_blinding", "pressure", "melt_pressure:P1", evidence=told)
    assert said_forecast(said, END) == (14400.0, 10800.0, 25200.0)
    assert said_forecast(said, END + HOUR) == (10800.0, 7200.0, 21600.0)
    assert said_forecast(said, END + 9 * HOUR) == (0.0, 0.0, 0.0)
    assert said_forecast(replace(said, evidence=told[:1]), END) == (14400.0, 14400.0, None)
    assert said_forecast(replace(said, evidence=()), END) is None


def test_words_of_the_forecast_are_the_monitors() -> None:
    text = Path(screen_blinding.__file__).read_text(encoding="utf-8")
    assert all(f'"{what}"' in text for what in ("time to the limit", "at the earliest", "at the latest"))


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("heater current of each band", "running"),
        ("sensor port at the next clean-out", "stop"),
        ("reading on the controller's own display", "running"),
        ("scale free to move", "stop"),
        ("torque limiter or coupling", "stop"),
        ("isolate the supply of this zone; a lower set-point does not help", "stop"),
        ("pump", ""),
        ("hopper: rat-hole, bridge, agitator", "stop"),
        ("agitator running?", "running"),
    ],
)
def test_a_check_is_sorted_only_where_its_words_tell(text: str, place: str) -> None:
    assert check_place(text) == place
