"""What a tag may be, on the import page."""

from __future__ import annotations

from dashboards.log_questions import questions, tag_in
from dashboards.tag_choice import changed, how_sure, options_of, other_role, role_words, taken, value_of
from ingest.propose import Candidate, TagProposal

PRESSURE = Candidate("melt_pressure", "P1", 0.9, ("the name says it",), "before_screen")
ZONE = Candidate("zone_temperature", "Z3", 0.5, ("stands there",))
OPEN = TagProposal("X1", "", "", "", "cannot tell", "cannot tell", "fits both alike", (PRESSURE, ZONE))
TOLD = TagProposal("X1", "melt_pressure", "P1", "psi", "likely", "sure", "why", (PRESSURE, ZONE), "before_screen")


def test_cannot_tell_stands_first_and_says_why() -> None:
    options = options_of(OPEN, OPEN)

    assert [option.value for option in options] == ["", "melt_pressure|P1", "zone_temperature|Z3"]
    assert options[0].why == "fits both alike" and options[1].why == "the name says it"


def test_a_choice_besides_the_proposed_is_an_option_too() -> None:
    now = TagProposal("X1", "torque", "", "%", "sure", "sure", "chosen by hand", ())

    assert options_of(OPEN, now)[-1].value == value_of(now) == "torque|"


def test_a_unit_is_kept_only_where_it_can_be() -> None:
    assert taken(TOLD, "zone_temperature|Z3") == {"role": "zone_temperature", "at": "Z3", "unit": "", "position": ""}
    assert taken(TOLD, "melt_pressure|P1")["unit"] == "psi"
    assert taken(TOLD, "melt_pressure|P1")["position"] == "before_screen"
    assert other_role(TOLD, "gearbox_oil_pressure")["unit"] == "psi"
    assert taken(TOLD, "")["role"] == ""


def test_another_role_of_the_same_kind_stays_in_its_place() -> None:
    assert other_role(TOLD, "melt_temperature")["at"] == "P1"
    assert other_role(OPEN, "zone_output")["at"] == "Z3"
    assert other_role(OPEN, "screw_speed")["at"] == ""
    assert changed(TOLD, unit="bar") == {
        "role": "melt_pressure",
        "at": "P1",
        "unit": "bar",
        "position": "before_screen",
    }


def test_words() -> None:
    assert role_words("zone_temperature", "Z1") == "temperature of zone Z1"
    assert role_words("screw_speed", "") == "screw speed"
    assert role_words("melt_pressure", "") == "melt pressure at melt sensor …"
    assert [how_sure(OPEN, False), how_sure(OPEN, True), how_sure(TOLD, True)] == ["cannot tell", "out", "by hand"]


def test_questions_lead_to_their_tag() -> None:
    account = {
        "assumptions": ["/a/b/log.csv: numbers have decimal commas"],
        "noticed": ["'T 1' reads 400: is it F?"],
        "how_sure": {"'T 1' reads 400: is it F?": "likely"},
        "values_sentinel": {"T 11": {"-999": 12}},
        "silent_tags": ["T 1"],
        "files": [{"path": "/a/b/log.csv"}],
    }

    found = questions(account, ("give the line its own name",) * 2, ["T 1", "T 11"])

    assert [(one.kind, one.sure, one.tag) for one in found] == [
        ("look", "", ""), ("noticed", "likely", "T 1"), ("assumed", "", ""), ("sentinel", "", "T 11"),
        ("look", "", "T 1"),
    ]  # fmt: skip
    assert found[2].text == "log.csv: numbers have decimal commas"
    assert tag_in("'T 11' and 'T 1' look alike", ["T 1", "T 11"]) == "T 11"
    assert tag_in("T 12 is another", ["T 1"]) == ""
