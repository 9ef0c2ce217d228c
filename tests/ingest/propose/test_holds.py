"""How long readings stand in logs that are stored on change, on a clock, or with cells left empty."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ingest.mapping import ChannelSource, LogMapping
from ingest.propose import propose
from ingest.propose.holds import with_holds_seen
from ingest.roles import ROLES

TAGS = {
    "T1": "zone_temperature:Z1", "T2": "zone_temperature:Z2", "T3": "zone_temperature:Z3", "Y1": "zone_output:Z1",
    "N": "screw_speed", "S1": "zone_setpoint:Z1",
}  # fmt: skip
NAMES = {"T1": "Zone 1 temp", "T2": "Zone 2 temp", "T3": "Zone 3 temp", "Y1": "Zone 1 output", "N": "Screw speed",
         "S1": "Zone 1 set"}  # fmt: skip
STEP_S, HOURS, HEARTBEAT_S = 2, 6, 600


def courses() -> dict[str, np.ndarray]:
    """Zones that seldom change by the step they are shown with; a screw that is lively, then stands; a set-point."""
    rng = np.random.default_rng(5)
    n = HOURS * 3600 // STEP_S
    told = {tag: np.round(200 + np.cumsum(rng.normal(0, 0.02, n)), 0) for tag in ("T1", "T2", "T3")}
    told["Y1"] = np.round(30 + np.cumsum(rng.normal(0, 0.03, n)), 0)
    told["N"] = np.where(np.arange(n) < n // 2, np.round(300 + rng.normal(0, 0.5, n), 1), 0.0)
    told["S1"] = np.full(n, 200.0)
    return told


def on_change() -> dict[str, list[tuple[int, float]]]:
    """(second, reading) by tag: when it differs, and every HEARTBEAT_S where it does not."""
    found: dict[str, list[tuple[int, float]]] = {}
    for tag, course in courses().items():
        kept: list[tuple[int, float]] = []
        for i, value in enumerate(course.tolist()):
            if not kept or value != kept[-1][1] or i * STEP_S - kept[-1][0] >= HEARTBEAT_S:
                kept.append((i * STEP_S, value))
        found[tag] = kept
    return found


def long_log(folder: Path, readings: dict[str, list[tuple[int, float]]]) -> Path:
    rows = sorted((at, tag, value) for tag, kept in readings.items() for at, value in kept)
    path = folder / "log.csv"
    stamps = (f"{1_806_984_000 + at},{NAMES[tag]},{value:g}" for at, tag, value in rows)
    path.write_text("\n".join(["time,tag,value", *stamps]) + "\n", encoding="utf-8")
    return path


def mapping(**changes: object) -> LogMapping:
    channels = tuple(
        ChannelSource(NAMES[tag], key, ROLES[key.split(":")[0]].unit, "last", ROLES[key.split(":")[0]].hold_s)
        for tag, key in TAGS.items()
    )
    line = LogMapping("L", 2.0, "UTC", channels, layout="long", tag_column="tag", value_column="value")
    return replace(line, **changes)  # type: ignore[arg-type]


def test_every_tag_of_a_log_on_change_stands_as_long_as_it_keeps_still(tmp_path: Path) -> None:
    """600 s and a fifth are 720 s, for the lively speed too, which stays in the stop; a set-point holds for a day."""
    held, seen = with_holds_seen([long_log(tmp_path, on_change())], mapping(), ())

    assert seen == {NAMES[tag]: 720.0 for tag in ("T1", "T2", "T3", "Y1", "N")}
    assert {one.tag: one.hold_s for one in held.channels} == {**seen, NAMES["S1"]: ROLES["zone_setpoint"].hold_s}


def test_what_the_line_file_says_stays(tmp_path: Path) -> None:
    held, seen = with_holds_seen([long_log(tmp_path, on_change())], mapping(), [NAMES["N"], NAMES["T1"]])

    assert set(seen) == {NAMES[tag] for tag in ("T2", "T3", "Y1")}
    assert next(one.hold_s for one in held.channels if one.tag == NAMES["N"]) == ROLES["screw_speed"].hold_s


@pytest.mark.parametrize(("every_s", "hold"), [(10, {}), (100, 120.0)])
def test_a_log_on_a_clock_keeps_its_pace(tmp_path: Path, every_s: int, hold: object) -> None:
    """Once in 10 s is within every role's own time; once in 100 s is not within the 60 s of a zone."""
    kept = {
        tag: [(at, float(course[at // STEP_S])) for at in range(0, HOURS * 3600, every_s)]
        for tag, course in courses().items()
    }
    _, seen = with_holds_seen([long_log(tmp_path, kept)], mapping(), ())

    assert seen == ({NAMES[tag]: hold for tag in ("T1", "T2", "T3", "Y1", "N")} if hold else {})


def test_a_wide_log_with_empty_cells(tmp_path: Path) -> None:
    wide = mapping(layout="wide", tag_column="", value_column="")
    full = courses()
    for name, blank in (("full", False), ("gaps", True)):
        rows = []
        for i in range(0, HOURS * 3600 // STEP_S, 5):
            cells = [f"{full[tag][i]:g}" if tag == "N" or not blank or i % 100 == 0 else "" for tag in TAGS]
            rows.append(",".join([str(1_806_984_000 + i * STEP_S), *cells]))
        path = tmp_path / f"{name}.csv"
        path.write_text("\n".join([",".join(["time", *NAMES.values()]), *rows]) + "\n", encoding="utf-8")
        _, seen = with_holds_seen([path], wide, ())
        # 200 s and a fifth
        assert seen == ({NAMES[tag]: 240.0 for tag in ("T1", "T2", "T3", "Y1")} if blank else {}), name


def test_the_proposal_says_the_same(tmp_path: Path) -> None:
    line = propose([long_log(tmp_path, on_change())]).lines[0]
    holds = {one.tag: one.hold_s for one in line.tags if one.told}
    assert holds[NAMES["T1"]] == holds[NAMES["N"]] == 720.0 and holds[NAMES["S1"]] == 0.0


def test_a_log_that_cannot_be_opened_is_left_to_the_reader(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("no table", encoding="utf-8")
    assert with_holds_seen([tmp_path / "log.csv"], mapping(), ()) == (mapping(), {})


def test_the_liveliest_tag_of_a_log_on_change_stands_as_long_as_the_others(tmp_path: Path) -> None:
    """The scale of a large feeder never stays: it is told at every scan. One on a slower clock has its own pace."""
    readings = on_change()
    rng = np.random.default_rng(7)
    for tag, every_s in (("N", STEP_S), ("Y1", 20)):
        stamps = range(0, HOURS * 3600, every_s)
        readings[tag] = list(zip(stamps, rng.normal(300, 1, len(stamps)).tolist(), strict=True))

    _, seen = with_holds_seen([long_log(tmp_path, readings)], mapping(), ())

    assert seen == {NAMES[tag]: 720.0 for tag in ("T1", "T2", "T3", "N")}


def lively(stop: range = range(0)) -> dict[str, np.ndarray]:
    """Noise on every channel, stopped or not but for the speed; and set-points that never move."""
    rng = np.random.default_rng(11)
    n = HOURS * 3600 // STEP_S
    told = {tag: np.round(200 + rng.normal(0, 0.08, n), 1) for tag in ("T1", "T2", "T3", "Y1")}
    told["Y1"] = np.round(told["Y1"] - 170, 1)
    told["N"] = np.round(300 + rng.normal(0, 0.1, n), 1)
    told["N"][[i // STEP_S for i in stop]] = 0.0
    return {**told, "S1": np.full(n, 200.0), "S2": np.full(n, 210.0), "S3": np.full(n, 220.0)}


def kept_when_changed(told: dict[str, np.ndarray], without: dict[str, range]) -> dict[str, list[tuple[int, float]]]:
    """As `on_change`, at whole times HEARTBEAT_S of the logger's clock; nothing of a tag in a time without it."""
    found: dict[str, list[tuple[int, float]]] = {}
    for tag, course in told.items():
        moved = np.r_[True, np.diff(course) != 0] | (np.arange(len(course)) * STEP_S % HEARTBEAT_S == 0)
        at = [int(i) * STEP_S for i in np.flatnonzero(moved)]
        found[tag] = [(s, float(course[s // STEP_S])) for s in at if s not in without.get(tag, range(0))]
    return found


SETS = {"S1": "zone_setpoint:Z1", "S2": "zone_setpoint:Z2", "S3": "zone_setpoint:Z3"}


def set_points_too(monkeypatch: pytest.MonkeyPatch) -> LogMapping:
    monkeypatch.setitem(NAMES, "S2", "Zone 2 set")
    monkeypatch.setitem(NAMES, "S3", "Zone 3 set")
    for tag, key in SETS.items():
        monkeypatch.setitem(TAGS, tag, key)
    return mapping()


def test_set_points_show_how_long_a_reading_of_the_same_logger_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Readings that never stay but in one short stop: what stands still shows every 600 s, and a fifth is 720 s."""
    line = set_points_too(monkeypatch)
    log = long_log(tmp_path, kept_when_changed(lively(range(9000, 11400)), {}))
    _, seen = with_holds_seen([log], line, ())

    assert seen == {NAMES[tag]: 720.0 for tag in ("T1", "T2", "T3", "Y1", "N")}
    told = {one.tag: one.hold_s for one in propose([log]).lines[0].tags if one.told}
    assert {tag: hold for tag, hold in told.items() if hold} == seen


def test_a_tag_that_is_silent_for_longer_and_one_that_is_stored_again_sooner_keep_their_own_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One tag is lost for a quarter of an hour four times, which says nothing of the others; one is on a clock."""
    line = set_points_too(monkeypatch)
    readings = kept_when_changed(lively(), {})
    lost = [range(at, at + 900) for at in (2000, 7000, 12000, 17000)]
    readings["T1"] = [one for one in readings["T1"][::40] if not any(one[0] in times for times in lost)]
    readings["Y1"] = [(at, 30.0) for at in range(0, HOURS * 3600, 20)]
    _, seen = with_holds_seen([long_log(tmp_path, readings)], line, ())

    assert {tag: seen.get(NAMES[tag], 0.0) for tag in ("T2", "T3", "N")} == dict.fromkeys(("T2", "T3", "N"), 720.0)
    assert seen[NAMES["T1"]] != 720.0 and NAMES["Y1"] not in seen


def test_set_points_on_a_slow_clock_say_nothing_of_readings_on_a_fast_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = set_points_too(monkeypatch)
    told = lively(range(9000, 11400))
    readings = {
        tag: [(at, float(told[tag][at // STEP_S])) for at in range(0, HOURS * 3600, 600 if tag in SETS else 10)]
        for tag in told
    }
    assert with_holds_seen([long_log(tmp_path, readings)], line, ())[1] == {}
