"""Places in the header: learned from known tags, silent where they disagree."""

from __future__ import annotations

from ingest.propose.header_pattern import votes_of_place

ORDER = [f"{zone}{what}" for zone in "abcd" for what in ("t", "s", "y")]
KNOWN = {
    "at": ("zone_temperature", "Z1"), "as": ("zone_setpoint", "Z1"), "ay": ("zone_output", "Z1"),
    "bt": ("zone_temperature", "Z2"), "bs": ("zone_setpoint", "Z2"), "by": ("zone_output", "Z2"),
    "ct": ("zone_temperature", "Z3"),
}  # fmt: skip


def test_what_stands_beside_a_known_temperature() -> None:
    votes = votes_of_place(ORDER, KNOWN)

    assert votes["cs"].most_common(1)[0][0] == ("zone_setpoint", "Z3")
    assert votes["cy"].most_common(1)[0][0] == ("zone_output", "Z3")


def test_the_next_zone_stands_as_far_on() -> None:
    assert votes_of_place(ORDER, KNOWN)["dt"].most_common(1)[0][0] == ("zone_temperature", "Z4")


def test_an_order_without_a_pattern_says_nothing() -> None:
    order = ["by", "at", "cs", "bs", "ct", "as", "dt", "bt", "cy", "ay"]

    assert not votes_of_place(order, {tag: key for tag, key in KNOWN.items() if tag in order})


def test_roles_of_the_line_have_no_place() -> None:
    assert not votes_of_place(["a", "b", "c"], {"a": ("torque", ""), "b": ("screw_speed", "")})
