"""What most tags of a log start or end with is the name of the line, and speaks for no role."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.propose import propose_names
from ingest.propose.line_name import line_name, names_of_line
from ingest.propose.machines import machines_in
from ingest.propose.names import NO_ENDS, Ends
from ingest.propose.propose_log import propose_sample
from tests.ingest.propose.made_up import sample

PARTS = {
    "Barrel 1 Temp": "zone_temperature", "Barrel 1 Set": "zone_setpoint", "Barrel 2 Temp": "zone_temperature",
    "Barrel 2 Set": "zone_setpoint", "Barrel 3 Temp": "zone_temperature", "Barrel 3 Set": "zone_setpoint",
    "Screw rpm": "screw_speed", "Melt temp": "melt_temperature", "Die pressure": "melt_pressure",
    "Drive load": "torque", "Hopper kg": "feeder_weight",
}  # fmt: skip
"""Names behind that of the line, and what each is."""


def told(tags: list[str]) -> dict[str, str]:
    return {one.tag: one.role for one in propose_names(tags).lines[0].tags}


@pytest.mark.parametrize("line", ["MT4", "PM-2", "PT 07", "TIC3", "Druck9", "SP12", "DS", "Tmp."])
def test_a_name_of_the_line_that_means_something_by_itself_says_nothing(line: str) -> None:
    assert told([f"{line} {part}" for part in PARTS]) == {f"{line} {part}": role for part, role in PARTS.items()}


@pytest.mark.parametrize("line", ["MT4", "PT 07", "DS"])
def test_neither_does_one_that_stands_behind(line: str) -> None:
    assert told([f"{part} {line}" for part in PARTS]) == {f"{part} {line}": role for part, role in PARTS.items()}


def test_the_unit_ahead_of_the_name_of_the_line_is_read() -> None:
    names = names_of_line([f"{part} {unit} PT7" for part, unit in zip(PARTS, 6 * ["°C"] + 5 * [""], strict=True)])

    assert [name.unit for name in names] == 6 * ["°C"] + ["rpm", "", "", "", "kg"]


def test_tags_without_the_name_of_the_line_are_read_as_they_are() -> None:
    found = told([*(f"PT7 {part}" for part in PARTS), "PT 1", "Hall temperature"])

    assert found["PT7 Screw rpm"] == "screw_speed"
    assert found["Hall temperature"] == "ambient_temperature"
    assert found["PT 1"] == "melt_pressure"


def test_a_plant_ahead_of_the_line_goes_with_it() -> None:
    assert line_name([f"North.MT4.{part}" for part in PARTS]) == Ends(("north", "mt", "4"), ())


@pytest.mark.parametrize(
    "tags",
    [
        [f"Zone {n} {what}" for n in range(1, 8) for what in ("Heater Temp", "Current", "Power")] + ["Screw rpm"],
        [f"Temp {what}" for what in ("Zone 1", "Zone 2", "Zone 3", "Die", "Melt", "Gearbox")] + ["Screw rpm", "Torque"],
        [f"Feeder 1 {what}" for what in ("Rate", "Set", "Weight", "Speed", "Refill", "Current")] + ["Screw rpm"],
        [f"{part} PV" for part in PARTS if not part.endswith("Set")] + ["Screw rpm SP"],
        [f"MT4 {part}" for part in list(PARTS)[:6]] + [f"XK2 {part}" for part in list(PARTS)[6:]],
    ],
    ids=["parts with numbers", "a quantity", "one feeder", "the side of a loop", "half of the tags"],
)
def test_what_is_no_name_of_a_line(tags: list[str]) -> None:
    assert line_name(tags) == NO_ENDS


def test_two_lines_whose_names_mean_something() -> None:
    machines, rest = machines_in([f"MP{n} {part}" for n in (3, 4) for part in PARTS])

    assert [(one.name, one.driven) for one in machines] == [("MP 3", True), ("MP 4", True)]
    assert rest == []


def test_letters_behind_a_letter_tell_feeders_apart_and_none_is_the_rate_of_the_line() -> None:
    """By itself FB is a feedback. One set-point that its rate sits at clearly makes it no more the line's."""
    rng = np.random.default_rng(2)
    columns = {"Screw rpm": np.round(80 + rng.normal(0, 0.1, 2000), 1)}
    for letter, rate, noise in (("A", 310.0, 40.0), ("B", 24.0, 3.0), ("C", 57.0, 0.2)):
        columns[f"F{letter} kg/h"] = np.round(rate + rng.normal(0, noise, 2000), 2)
        columns[f"F{letter} set kg/h"] = np.full(2000, rate)
    found = {one.tag: one.role for one in propose_sample(sample(columns)).lines[0].tags}

    assert {role for tag, role in found.items() if tag.startswith("F")} <= {"", "feeder_rate", "feeder_setpoint"}
    assert told(["FB kg/h", "Screw rpm", "Melt temp"])["FB kg/h"] == "line_rate"
