"""Loops with the endings of the zones are zones where level, stillness and words allow it, and nothing else is."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.propose import line_text
from ingest.propose.proposal import Proposal, TagProposal
from ingest.propose.propose_log import propose_sample
from tests.ingest.propose.made_up import sample, zone

N = 3000
GERMAN = ("Zone {} Istw", "Zone {} Sollw", "Zone {} Stg")
ENGLISH = ("{}.ACT", "{}.SET", "{}.DUTY")
AHEAD = ("PV_{}", "SP_{}", "CV_{}")
LEVELS = {"1": 170.0, "2": 185.0, "3": 195.0, "4": 200.0, "5": 200.0}


def log(
    endings: tuple[str, ...],
    stems: dict[str, np.ndarray | float],
    numbered: str = "Z{}",
    *,
    speed: bool = True,
    fahrenheit: bool = False,
) -> Proposal:
    """What is proposed for five zones and loops of `stems`: name -> set-point, of a zone, or readings of any kind."""
    rng = np.random.default_rng(5)
    columns: dict[str, np.ndarray] = {}
    scale = (lambda x: np.round(1.8 * x + 32, 1)) if fahrenheit else (lambda x: x)
    for stem, level in {**{numbered.format(k): v for k, v in LEVELS.items()}, **stems}.items():
        if isinstance(level, float):
            actual, wanted, output = zone(level, rng, N)
            actual, wanted = scale(actual), scale(wanted)
        else:
            actual, wanted = level, np.full(N, float(np.median(level)))
            output = np.round(60 + rng.normal(0, 0.3, N), 1)
        # The output is what the controller did a while ago, so that it does not tell by itself which zone it heats.
        made = dict(zip(endings, (actual, wanted, np.roll(output, 200)), strict=False))
        columns |= {ending.format(stem): column for ending, column in made.items()}
    if speed:
        columns["Screw speed rpm"] = np.round(90 + rng.normal(0, 0.1, N), 1)
    return propose_sample(sample(columns))


def told(proposal: Proposal) -> dict[str, TagProposal]:
    return {one.tag: one for one in proposal.lines[0].tags}


def roles(proposal: Proposal, stem: str, endings: tuple[str, ...]) -> list[tuple[str, str]]:
    found = told(proposal)
    return [(found[one.format(stem)].role, found[one.format(stem)].subject) for one in endings]


def of_zone(name: str) -> list[tuple[str, str]]:
    return [("zone_temperature", name), ("zone_setpoint", name), ("zone_output", name)]


@pytest.mark.parametrize("endings", [GERMAN, ENGLISH, AHEAD])
def test_a_loop_like_the_zones_is_a_zone_of_its_own_name(endings: tuple[str, ...]) -> None:
    proposal = log(endings, {"KX": 205.0, "D1": 210.0, "D2": 210.0})

    for name in ("KX", "D1", "D2"):
        assert roles(proposal, name, endings) == of_zone(name)
    for number in LEVELS:
        assert roles(proposal, f"Z{number}", endings) == of_zone(f"Z{number}")
    assert proposal.lines[0].zones == ("Z1", "Z2", "Z3", "Z4", "Z5", "KX", "D1", "D2")
    assert proposal.lines[0].feeders == ()


def test_it_is_likely_and_says_what_it_is_like() -> None:
    found = told(log(ENGLISH, {"KX": 205.0}))

    assert {found[one.format("KX")].sure for one in ENGLISH} == {"likely"}
    assert "as 'Z1.ACT'" in found["KX.ACT"].why


def test_in_fahrenheit_and_without_outputs() -> None:
    endings = ENGLISH[:2]
    proposal = log(endings, {"KX": 228.0, "QY": 275.0}, fahrenheit=True)

    assert roles(proposal, "KX", endings) == of_zone("KX")[:2]
    assert roles(proposal, "QY", endings) == [("", ""), ("", "")]


def test_where_zones_have_outputs_a_loop_without_one_is_not_told() -> None:
    rng = np.random.default_rng(9)
    actual, wanted, _ = zone(200.0, rng, N)
    columns = {"KX.ACT": actual, "KX.SET": wanted, "Screw speed rpm": np.round(90 + rng.normal(0, 0.1, N), 1)}
    for number, level in LEVELS.items():
        columns |= dict(zip((one.format(f"Z{number}") for one in ENGLISH), zone(level, rng, N), strict=True))

    assert roles(propose_sample(sample(columns)), "KX", ENGLISH[:2]) == [("", ""), ("", "")]


@pytest.mark.parametrize("level", [100.0, 275.0])
def test_a_level_beyond_the_zones_is_not_told_and_no_feeder(level: float) -> None:
    proposal = log(ENGLISH, {"D1": level})

    assert roles(proposal, "D1", ENGLISH) == [("", "")] * 3


def test_what_jumps_as_no_steel_does_is_no_zone() -> None:
    rng = np.random.default_rng(7)
    rate = np.round(190 * (1 + rng.normal(0, 0.004, N)), 1)
    proposal = log(ENGLISH, {"F1": rate, "F2": np.round(rate / 8, 2), "KX": rate + 10})

    assert [role for role, _ in roles(proposal, "F1", ENGLISH)] == ["feeder_rate", "feeder_setpoint", "feeder_drive"]
    assert [role for role, _ in roles(proposal, "F2", ENGLISH)] == ["feeder_rate", "feeder_setpoint", "feeder_drive"]
    assert roles(proposal, "KX", ENGLISH) == [("", "")] * 3


@pytest.mark.parametrize("stem", ["Pump", "Feeder A", "P7", "Melt"])
def test_a_word_for_something_else_goes_before(stem: str) -> None:
    proposal = log(ENGLISH, {stem: 200.0})

    assert not {role for role, _ in roles(proposal, stem, ENGLISH)} & {role for role, _ in of_zone("")}


def test_a_still_loop_may_be_the_screw_where_no_speed_is_told() -> None:
    assert roles(log(ENGLISH, {"KX": 200.0}, speed=False), "KX", ENGLISH) == [("", "")] * 3
    # With a word of heat in the names there is no such doubt.
    assert roles(log(GERMAN, {"KX": 200.0}, speed=False), "KX", GERMAN) == of_zone("KX")


def test_the_words_for_places_say_the_kind_and_the_others_leave_it_open() -> None:
    proposal = log(GERMAN, {"KX": 205.0, "Flansch": 205.0, "Siebwechsler": 205.0, "Werkzeug": 210.0})
    text = line_text(proposal, proposal.lines[0])

    assert proposal.lines[0].zones == ("Z1", "Z2", "Z3", "Z4", "Z5", "KX", "ADAPTER", "SCREEN", "DIE")
    assert 'name = "KX"\nkind = "barrel"  # CANNOT TELL' in text
    for name, kind in (("Z4", "barrel"), ("ADAPTER", "adapter"), ("SCREEN", "screen"), ("DIE", "die")):
        assert f'name = "{name}"\nkind = "{kind}"\n' in text


def test_two_of_one_place_keep_their_own_words() -> None:
    proposal = log(GERMAN, {"Flansch": 205.0, "Adapter": 205.0})
    text = line_text(proposal, proposal.lines[0])

    assert proposal.lines[0].zones == ("Z1", "Z2", "Z3", "Z4", "Z5", "Flansch", "Adapter")
    assert 'name = "Flansch"\nkind = "adapter"\n' in text
