"""What changed between two versions, in words a person can check against the file."""

from __future__ import annotations

from dashboards.workshop.file_change import changed_lines, changes

BEFORE = """format = 1
[line]
name = "a"  # of hall 2
time_zone = "UTC"
[[zone]]
name = "Z1"
[[zone]]
name = "Z2"
output_limit_pct = 80
[[sensor]]
tag = "T1"
role = "zone_temperature"
at = "Z1"
"""


def test_nothing() -> None:
    assert changes(BEFORE, BEFORE) == ["nothing"]


def test_a_comment_is_no_change_of_content() -> None:
    assert changes(BEFORE, BEFORE.replace("hall 2", "hall 3")) == ["only comments, blanks or the order of keys"]


def test_values_are_told_with_what_they_were() -> None:
    after = BEFORE.replace('"UTC"', '"Europe/Madrid"').replace("= 80", "= 90").replace('"zone_temp', '"melt_temp')

    assert changes(BEFORE, after) == [
        "[line]: time_zone is 'Europe/Madrid', was 'UTC'",
        "zone 'Z2': output_limit_pct is 90, was 80",
        "sensor 'T1': role is 'melt_temperature', was 'zone_temperature'",
    ]


def test_parts_come_go_and_change_places() -> None:
    after = BEFORE.replace('[[zone]]\nname = "Z1"\n', "") + '[[zone]]\nname = "Z1"\n[[vent]]\nname = "V1"\n'
    after = after.replace("output_limit_pct = 80\n", "cooled = false\n")

    assert changes(BEFORE, after) == [
        "vent 'V1' is new",
        "zone 'Z2': output_limit_pct is not said any more, was 80",
        "zone 'Z2': cooled is false, was not said",
        "order of zones is now Z2, Z1",
    ]


def test_windows_are_known_by_role_and_place() -> None:
    before = '[[window]]\nrole = "torque"\nhigh = 80\n[[window]]\nrole = "vacuum"\nat = "V1"\nhigh = 90\n'

    assert changes(before, before.replace("90", "70")) == ["window 'vacuum V1': high is 70, was 90"]


def test_texts_that_are_no_toml_are_counted_by_lines() -> None:
    assert changes("a = 1\nb", "a = 1\nc\nd") == ["2 lines put in, 1 taken out"]


def test_line_by_line() -> None:
    assert [row for row in changed_lines("a\nb\nc\n", "a\nx\nc\n") if row[0] in "+-"] == [("-", "b"), ("+", "x")]
