"""Logs on disk of every layout, and the text of the line file that comes out."""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path

import numpy as np
import pytest

from ingest.errors import BadLog
from ingest.propose import line_text, propose, propose_names
from monitor.line import read_line

START = dt.datetime(2027, 3, 2, 6, 0, 0)


def rows_of(n: int = 300) -> list[list[str]]:
    """Time, two zones, speed, torque."""
    steady = np.sin(np.arange(n) / 7)
    stamps = [(START + dt.timedelta(seconds=2 * i)).isoformat(" ") for i in range(n)]
    return [
        [stamp, f"{200 + x:.1f}", f"{210 - x:.1f}", f"{300 + x:.0f}", f"{60 + x:.1f}"]
        for stamp, x in zip(stamps, steady, strict=True)
    ]


NAMES = ["Time", "Zone 1 temp", "Zone 2 temp", "Screw speed", "Torque"]


def written(tmp_path: Path, text: str, name: str = "log.csv") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def wide(delimiter: str = ",", above: str = "") -> str:
    return above + "\n".join(delimiter.join(row) for row in [NAMES, *rows_of()]) + "\n"


def told(path: Path) -> dict[str, str]:
    return {one.tag: one.role for line in propose([path]).lines for one in line.tags if one.told}


ROLES = {
    "Zone 1 temp": "zone_temperature", "Zone 2 temp": "zone_temperature", "Screw speed": "screw_speed",
    "Torque": "torque",
}  # fmt: skip


FORMS = {"comma": wide(), "semicolon": wide(";"), "tab": wide("\t"), "preamble": wide(",", "Export of line 4\n\n")}


@pytest.mark.parametrize("text", FORMS.values(), ids=FORMS.keys())
def test_wide_logs(tmp_path: Path, text: str) -> None:
    assert told(written(tmp_path, text)) == ROLES


def test_long_logs_and_their_keys(tmp_path: Path) -> None:
    rows = [
        f"{row[0]},{name},{value},Good" for row in rows_of() for name, value in zip(NAMES[1:], row[1:], strict=True)
    ]
    proposal = propose([written(tmp_path, "stamp,tagname,value,quality\n" + "\n".join(rows) + "\n")])

    assert {one.tag: one.role for one in proposal.lines[0].tags} == ROLES
    log = proposal.log
    assert (log.layout, log.tag_column, log.value_column, log.quality_column) == ("long", "tagname", "value", "quality")
    assert (log.time_columns, log.cadence_s, log.zoned) == (("stamp",), 2.0, False)


def test_one_file_a_line_where_a_column_says_the_line(tmp_path: Path) -> None:
    rows = [",".join([row[0], name, *row[1:]]) for row in rows_of() for name in ("west", "east")]
    path = written(tmp_path, ",".join(["Time", "Line", *NAMES[1:]]) + "\n" + "\n".join(rows) + "\n")
    proposal = propose([path])

    assert [(line.name, line.line_value) for line in proposal.lines] == [("west", "west"), ("east", "east")]
    assert 'line_column = "Line"\nline_value = "east"' in line_text(proposal, proposal.lines[1])


def test_a_date_that_may_be_either_way_is_a_guess_and_said(tmp_path: Path) -> None:
    rows = [[f"02/03/2027 06:{i // 60:02d}:{i % 60:02d}", *row[1:]] for i, row in enumerate(rows_of())]
    path = written(tmp_path, "\n".join(",".join(row) for row in [NAMES, *rows]) + "\n")
    proposal = propose([path])

    assert proposal.log.time_format == "%d/%m/%Y %H:%M:%S"
    assert "a guess" in line_text(proposal, proposal.lines[0])


def test_stored_on_change_gets_a_hold(tmp_path: Path) -> None:
    lines = ["time,tag,value"]
    for i, row in enumerate(rows_of(600)):
        lines.append(f"{row[0]},Screw speed,{row[3]}")
        if i % 60 == 0:
            lines.append(f"{row[0]},Torque,{row[4]}")
    proposal = propose([written(tmp_path, "\n".join(lines) + "\n")])
    holds = {one.tag: one.hold_s for one in proposal.lines[0].tags}

    assert holds == {"Screw speed": 0.0, "Torque": 180.0}


def test_names_that_are_hard_to_write_come_back_unchanged(tmp_path: Path) -> None:
    tags = ['Zone 1 "temp" \\ x', "Zone 2 temp\x7f#", "Torque"]
    proposal = propose_names(tags)
    text = line_text(proposal, proposal.lines[0])
    path = written(tmp_path, text, "line.toml")

    told_tags = [one.tag for one in proposal.lines[0].tags if one.told]
    assert [sensor["tag"] for sensor in tomllib.loads(text)["sensor"]] == told_tags == tags
    assert read_line(path).name == "line 1"


def test_what_could_not_be_told_is_there_commented_out() -> None:
    proposal = propose_names(["Torque", "Screw speed", "Gizmo 3"])

    assert '# tag = "Gizmo 3"' in line_text(proposal, proposal.lines[0])


@pytest.mark.parametrize("text", ["", "no table here\nat all\n", "1,2,3\n4,5,6\n"], ids=["empty", "prose", "no names"])
def test_what_is_no_log_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadLog):
        propose([written(tmp_path, text)])


def test_a_long_log_is_sampled(tmp_path: Path) -> None:
    """40 times the rows, at most twice the readings that are looked at."""
    from ingest.propose.opened import open_any
    from ingest.propose.sample import MOST_ROWS, take_sample

    body = "\n".join(",".join(row) for row in rows_of(2000)) + "\n"
    path = written(tmp_path, ",".join(NAMES) + "\n" + body * 40)
    rows = take_sample(open_any([path]))

    assert not rows.whole
    assert 0.8 * MOST_ROWS < rows.values.shape[1] <= 1.1 * MOST_ROWS
    assert len(np.unique(rows.part)) == 10


def test_the_hopper_over_a_flood_fed_throat_and_two_end_zones() -> None:
    names = ["Zone 1 temp", "Zone HEAD temp", "Zone DIE temp", "Screw speed rpm", "Hopper weight kg"]
    proposal = propose_names(names)
    line = proposal.lines[0]
    text = tomllib.loads(line_text(proposal, line))

    assert (line.kind, line.kind_why) == ("single-screw", "")
    assert [(zone["name"], zone["kind"]) for zone in text["zone"]] == [
        ("Z1", "barrel"), ("HEAD", "die"), ("DIE", "die"),
    ]  # fmt: skip
    assert [(feeder["name"], feeder["kind"]) for feeder in text["feeder"]] == [("HOPPER", "hopper")]
    assert {"tag": "Hopper weight kg", "role": "feeder_weight", "at": "HOPPER", "unit": "kg"} in text["sensor"]
