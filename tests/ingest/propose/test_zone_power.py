"""The power of a zone is its output in percent where the numbers of all zones say so, and else it is not told."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.propose import line_text
from ingest.propose.proposal import Proposal, TagProposal
from ingest.propose.propose_log import propose_sample
from tests.ingest.propose.made_up import sample, zone

N = 3000
LEVELS = {"HZ1": 171.0, "HZ2": 183.0, "HZ3": 194.0, "HZ4": 205.0, "QK": 210.0, "Die": 212.0}
NEEDS = np.array([74.0, 55.0, 38.0, 21.0, 14.0, 30.0])


def log(scale: float = 1.0, digits: int = 0, shift: float = 0.0, word: str = "Power", most: float = 1e9) -> Proposal:
    """Zones whose power wanders about `scale` times a need of their own plus `shift`."""
    rng = np.random.default_rng(8)
    columns: dict[str, np.ndarray] = {}
    for (stem, level), need in zip(LEVELS.items(), NEEDS, strict=True):
        columns[f"L6 {stem} Temp"], columns[f"L6 {stem} Set"], _ = zone(level, rng, N)
        power = np.round(scale * (need + 3 * rng.normal(0, 1, N)) + shift, digits)
        columns[f"L6 {stem} {word}"] = np.minimum(power, most)
    columns["L6 Screw rpm"] = np.round(70 + rng.normal(0, 0.1, N), 1)
    return propose_sample(sample(columns))


def powers(proposal: Proposal, word: str = "Power") -> list[TagProposal]:
    return [one for one in proposal.lines[0].tags if one.tag.endswith(word)]


@pytest.mark.parametrize(
    ("numbers", "reason"),
    [
        ({}, "in whole numbers"),
        ({"digits": 1, "shift": -18.0}, "below nought|goes down to"),
        ({"digits": 1, "scale": 1.3, "most": 100.0}, "goes up to 100 and no further"),
    ],
    ids=["whole", "cooled", "full"],
)
def test_power_in_percent_is_the_output(numbers: dict[str, float], reason: str) -> None:
    found = powers(log(**numbers))  # type: ignore[arg-type]

    assert [(one.role, one.subject, one.unit, one.sure) for one in found] == [
        ("zone_output", subject, "%", "likely") for subject in ("Z1", "Z2", "Z3", "Z4", "QK", "DIE")
    ]
    assert all(any(part in one.why for part in reason.split("|")) for one in found)


@pytest.mark.parametrize(
    "numbers",
    [
        {"scale": 0.12, "digits": 2},
        {"scale": 0.5, "digits": 0},
        {"digits": 1},
        {"scale": 40.0, "digits": 0},
    ],
    ids=["kilowatts", "whole kilowatts of a large machine", "may be either", "watts"],
)
def test_what_may_be_kilowatts_is_not_told_and_is_not_the_drive(numbers: dict[str, float]) -> None:
    assert {one.role for one in powers(log(**numbers))} == {""}  # type: ignore[arg-type]


def test_a_unit_of_power_goes_before_the_numbers() -> None:
    assert {one.role for one in powers(log(word="Power kW"), "Power kW")} == {""}


def test_a_heated_pump_is_a_zone_and_an_adapter_and_its_speed_is_that_of_the_pump() -> None:
    rng = np.random.default_rng(9)
    columns: dict[str, np.ndarray] = {}
    for stem, level in {**LEVELS, "Pump": 208.0}.items():
        columns[f"{stem} Temp"], columns[f"{stem} Set"], columns[f"{stem} Out"] = zone(level, rng, N)
    columns["Pump rpm"] = np.round(41 + rng.normal(0, 0.1, N), 1)
    columns["Screw rpm"] = np.round(70 + rng.normal(0, 0.1, N), 1)
    proposal = propose_sample(sample(columns))
    found = {one.tag: (one.role, one.subject) for one in proposal.lines[0].tags}

    assert [found[f"Pump {what}"] for what in ("Temp", "Set", "Out", "rpm")] == [
        ("zone_temperature", "Pump"), ("zone_setpoint", "Pump"), ("zone_output", "Pump"), ("melt_pump_speed", ""),
    ]  # fmt: skip
    assert 'name = "Pump"\nkind = "adapter"' in line_text(proposal, proposal.lines[0])
