"""Die zones in logs of actual values only: by their neighbours, or by a letter behind the word zone."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.propose import propose_names
from ingest.propose.propose_log import propose_sample
from tests.ingest.propose.made_up import sample

N = 3000


def warm(level: float, seed: int) -> np.ndarray:
    """A zone: steel that wanders slowly by some tenths."""
    steps = np.random.default_rng(seed).normal(0, 0.04, N)
    way = np.zeros(N)
    for i in range(1, N):
        way[i] = 0.995 * way[i - 1] + steps[i]
    return np.round(level + way, 1)


def fed(rate: float, seed: int) -> np.ndarray:
    """A feeder: its rate scatters by some tenths of a percent from reading to reading."""
    return np.round(rate * (1 + np.random.default_rng(seed).normal(0, 0.006, N)), 1)


ZONES = {f"Z{i}_PV": warm(180 + 6 * i, i) for i in range(1, 9)}
REST = {"RPM": fed(300, 90), "Torque": fed(65, 91), "MP1": fed(110, 92)}


def told(columns: dict[str, np.ndarray], units: dict[str, str] | None = None) -> dict[str, tuple[str, str]]:
    lines = propose_sample(sample(columns), units or {}).lines
    return {one.tag: (one.role, one.subject) for line in lines for one in line.tags if one.told}


@pytest.mark.parametrize("count", [1, 2, 4])
@pytest.mark.parametrize("names", ["{}{}_PV", "{}{} ist", "M1.{}{}.Temp"])
def test_what_stands_behind_the_zones_and_is_like_them_is_the_die(count: int, names: str) -> None:
    zones = {names.format("Z", i): warm(180 + 6 * i, i) for i in range(1, 9)}
    dies = {names.format("D", i): warm(225 + i, 50 + i) for i in range(1, count + 1)}
    found = told({**zones, **dies, **REST})
    for i in range(1, count + 1):
        assert found[names.format("D", i)] == ("zone_temperature", f"DIE{i}")


@pytest.mark.parametrize(
    "others",
    [
        {f"D{i}_PV": fed(170.0 + 20 * i, 60 + i) for i in range(1, 4)},  # scatters as rates do
        {f"D{i}_PV": warm(20.0 * i, 60 + i) for i in range(1, 4)},  # far below the zones
        {f"D{i}_PV": np.full(N, 225.0) for i in range(1, 3)},  # never moves
        {**{f"D{i}_PV": warm(220.0 + i, 60 + i) for i in (1, 2)}, "D1_weight": warm(40, 70)},  # weighed
        {**{f"D{i}_PV": warm(220.0 + i, 60 + i) for i in (1, 2)}, "Throughput": fed(443, 71)},  # make up the rate
        {"X": warm(30, 80), **{f"D{i}_PV": warm(220.0 + i, 60 + i) for i in (1, 2)}},  # stand elsewhere
        {f"D{i}_PV": warm(220.0 + i, 60 + i) for i in (2, 3)},  # begin with 2
    ],
    ids=["scatter", "level", "constant", "weighed", "rate", "place", "numbers"],
)
def test_what_lacks_one_of_these_signs_is_no_die(others: dict[str, np.ndarray]) -> None:
    found = told({**ZONES, **others, **REST})
    assert not any(found.get(tag, ("", ""))[0] == "zone_temperature" for tag in others)


def test_a_unit_that_says_otherwise_counts() -> None:
    dies = {f"D{i}_PV": warm(220.0 + i, 60 + i) for i in (1, 2)}
    found = told({**ZONES, **dies, **REST}, dict.fromkeys(dies, "kg/h"))
    assert not any(found.get(tag, ("", ""))[0] == "zone_temperature" for tag in dies)


@pytest.mark.parametrize(("word", "behind"), [("Zone", ""), ("Zone", " Ist"), ("Heizzone", " °C"), ("zona", "_temp")])
def test_a_letter_behind_the_word_zone_says_where_it_is(word: str, behind: str) -> None:
    tags = [f"{word} {one}{behind}" for one in ("1", "2", "3", "4", "A1", "D1", "D2")]
    found = {one.tag: (one.role, one.subject) for one in propose_names([*tags, "Screw speed rpm"]).lines[0].tags}
    subjects = ["Z1", "Z2", "Z3", "Z4", "ADAPTER1", "DIE1", "DIE2"]
    wanted = [("zone_temperature", subject) for subject in subjects]
    if behind:
        assert [found[tag] for tag in tags] == wanted
    else:  # the bare name says a temperature by half only, and needs numbers beside it
        columns = {tag: warm(200.0, i) for i, tag in enumerate(tags)}
        assert [told({**columns, **REST})[tag] for tag in tags] == wanted


@pytest.mark.parametrize(
    "tags",
    [
        [f"Zone {letter}{i} °C" for letter in "ABD" for i in (1, 2, 3)],  # three extruders
        [f"Zone A{i} °C" for i in range(1, 7)],  # one, called A
        ["Zone 1 °C", "Zone 2 °C", "Feeder A kg/h", "Feeder D kg/h"],
    ],
)
def test_a_letter_that_may_be_a_machine_is_no_place(tags: list[str]) -> None:
    found = [one.subject for line in propose_names(tags).lines for one in line.tags]
    assert not any(subject.startswith(("DIE", "ADAPTER")) for subject in found)
