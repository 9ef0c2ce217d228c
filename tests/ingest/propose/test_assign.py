"""One role for one tag, and 'cannot tell' where two fit alike."""

from __future__ import annotations

import numpy as np

from ingest.propose import propose_names
from ingest.propose.propose_log import propose_sample
from tests.ingest.propose.made_up import feeder, sample, zone


def told(tags: list[str]) -> dict[str, str]:
    """Role by tag from names alone."""
    return {one.tag: one.role for one in propose_names(tags).lines[0].tags}


def test_two_tags_for_one_role_are_both_left() -> None:
    found = told(["Torque", "Main torque", "Screw speed"])

    assert found == {"Torque": "", "Main torque": "", "Screw speed": "screw_speed"}


def test_tags_that_differ_by_a_number_are_not_the_one_of_the_line() -> None:
    assert set(told(["Power 1", "Power 2", "Power 3"]).values()) == {""}


def test_numbers_that_cannot_be_take_a_role_away() -> None:
    rows = sample({"Zone 1 temperature": np.linspace(4000, 9000, 500), "Torque": np.full(500, 55.0)})
    by_tag = {one.tag: one for one in propose_sample(rows).lines[0].tags}

    assert by_tag["Zone 1 temperature"].role == ""
    assert by_tag["Torque"].role == "torque"
    assert by_tag["Zone 1 temperature"].candidates[0].role == "zone_temperature"


def test_a_copy_under_another_name_is_left_out() -> None:
    """As 'Machine4.Temperature4' and 'Machine4.Pressure' of the open 'multistage_line'."""
    moving = np.round(17 + np.sin(np.arange(500) / 9), 2)
    rows = sample({"Melt pressure": moving, "Melt temperature": moving, "Torque": np.full(500, 50.0)})
    by_tag = {one.tag: one for one in propose_sample(rows).lines[0].tags}

    assert not by_tag["Melt pressure"].told and not by_tag["Melt temperature"].told
    assert "every row" in by_tag["Melt pressure"].why


def test_behaviour_completes_what_names_leave_open() -> None:
    rng = np.random.default_rng(3)
    columns = {}
    for i in range(1, 5):
        columns[f"Zone {i} temp"], columns[f"k{i}s"], columns[f"k{i}y"] = zone(200, rng)
    columns["Feeder 1 weight"] = np.zeros(3000)
    columns["x17"], columns["Feeder 1 weight"], columns["x18"] = feeder(90.0, rng)
    by_tag = {one.tag: one for one in propose_sample(sample(columns)).lines[0].tags}

    assert {(by_tag[f"k{i}y"].role, by_tag[f"k{i}y"].subject) for i in range(1, 5)} == {
        ("zone_output", f"Z{i}") for i in range(1, 5)
    }
    assert (by_tag["x17"].role, by_tag["x17"].subject) == ("feeder_rate", "F1")
    assert (by_tag["x18"].role, by_tag["x18"].subject) == ("feeder_refill", "F1")


def test_every_tag_has_its_candidates_and_its_why() -> None:
    for one in propose_names(["Torque", "Zone 1 temp", "nonsense", "Temp 3"]).lines[0].tags:
        assert one.why
        assert one.told == (one.sure != "cannot tell")


def test_of_feeders_at_one_rate_names_tell_whose_is_whose() -> None:
    """Three rates and set-points fit every weight's fall alike; the number in front says which belong together."""
    rng = np.random.default_rng(8)
    columns = {}
    for i in range(1, 4):
        read, columns[f"Feeder{i}_WEIGHT"], _ = feeder(90.0, rng)
        columns[f"Feeder{i}_QX"] = read
        columns[f"Feeder{i}_QXX"] = np.full(len(read), 90.0)
    by_tag = {one.tag: one for one in propose_sample(sample(columns)).lines[0].tags}

    assert {tag: (by_tag[tag].role, by_tag[tag].subject) for tag in columns if not tag.endswith("QXX")} == {
        f"Feeder{i}_{word}": (role, f"F{i}")
        for i in range(1, 4)
        for word, role in (("WEIGHT", "feeder_weight"), ("QX", "feeder_rate"))
    }


def test_what_a_tag_is_said_to_come_with_is_there() -> None:
    names = [f"WF{i}_{word}" for i in range(1, 4) for word in ("FLOW", "XYZ", "WT")]
    of_flow = next(one for one in propose_names(names).lines[0].tags if one.tag == "WF1_FLOW")

    assert any("come with feeder_weight" in reason for reason in of_flow.candidates[0].reasons)
    assert "setpoint" not in " ".join(of_flow.candidates[0].reasons)


def test_short_words_of_two_meanings() -> None:
    wanted = {"E7_NSCR": "screw_speed", "E7_IMOT": "motor_current", "Feeder1_FSP": "feeder_setpoint"}

    assert told([*wanted]) == wanted
