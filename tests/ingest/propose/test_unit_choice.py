"""Units where the log does not say them: by level, and always a guess."""

from __future__ import annotations

import numpy as np

from ingest.propose.proposal import TagProposal
from ingest.propose.propose_log import propose_sample
from tests.ingest.propose.made_up import sample


def proposed(zones: float, pressure: float, units: dict[str, str] | None = None) -> dict[str, TagProposal]:
    """Zones at one level, one melt pressure."""
    n = 400
    columns = {f"Zone {i} temp": np.full(n, zones) + i + 0.1 * np.sin(np.arange(n)) for i in range(1, 5)}
    columns |= {"Melt pressure": pressure + np.sin(np.arange(n)), "Feeder 1 rate": 40 + np.sin(np.arange(n))}
    return {one.tag: one for one in propose_sample(sample(columns), units).lines[0].tags}


def test_celsius_and_fahrenheit_by_level() -> None:
    assert proposed(200, 80)["Zone 1 temp"].unit == "C"
    assert proposed(400, 1200)["Zone 1 temp"].unit == "F"


def test_other_units_follow_as_a_guess() -> None:
    found = proposed(400, 1200)

    assert (found["Melt pressure"].unit, found["Feeder 1 rate"].unit) == ("psi", "lb/h")
    assert found["Melt pressure"].unit_sure == found["Feeder 1 rate"].unit_sure == "a guess"


def test_what_the_log_says_counts() -> None:
    found = proposed(400, 1200, {"Melt pressure": "kPa", "Zone 1 temp": "C"})

    assert (found["Melt pressure"].unit, found["Melt pressure"].unit_sure) == ("kPa", "sure")
    assert found["Zone 1 temp"].unit == "C"


def test_a_torque_in_newton_metres_is_relative() -> None:
    """A share of the rated torque it is not, and what is rated the log does not say."""
    rows = sample({"Torque": 900 + np.sin(np.arange(300)), "Screw speed": np.full(300, 250.0)})
    found = {one.tag: one for one in propose_sample(rows, {"Torque": "N m"}).lines[0].tags}

    assert (found["Torque"].role, found["Torque"].unit) == ("torque", "relative")
    assert "rated power and speed in [drive]" in found["Torque"].unit_why
