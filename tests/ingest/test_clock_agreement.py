"""Clocks of controllers: simulated lines whose drive and feeders have clocks 0 to 60 s apart; nothing may be shifted.

The simulation is made here from plain physics: what follows what, and how fast. It shares nothing with the estimate.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from ingest.account import ReadingAccount
from ingest.mapping import ChannelSource, LogMapping
from tests.ingest.plain_log import read

HOURS = 3
TAGS = {
    "drive.n_set": ("screw_speed_setpoint", "rpm", "last", 86400),
    "drive.n": ("screw_speed", "rpm", "mean", 15),
    "motor.torque": ("torque", "%", "mean", 15),
    "motor.current": ("motor_current", "A", "mean", 15),
    "feed.F1_set": ("feeder_setpoint:F1", "kg/h", "last", 86400),
    "feed.F1": ("feeder_rate:F1", "kg/h", "mean", 30),
    "feed.F2_set": ("feeder_setpoint:F2", "kg/h", "last", 86400),
    "feed.F2": ("feeder_rate:F2", "kg/h", "mean", 30),
}


def lagged(wanted: np.ndarray, seconds: float) -> np.ndarray:
    """First-order lag, one value a second."""
    out, now = np.empty(len(wanted)), float(wanted[0])
    for i, target in enumerate(wanted):
        now += (target - now) / seconds
        out[i] = now
    return out


def line(seed: int, follow_s: int) -> dict[str, np.ndarray]:
    """Three hours: a control changes speed and feed together every few minutes; feed reaches the torque later."""
    rng = np.random.default_rng(seed)
    count = HOURS * 3600
    speed, at = np.full(count, 300.0), 0
    while (at := at + int(rng.integers(200, 900))) < count:
        speed[at:] = rng.uniform(200, 450)
    rate = np.concatenate((np.full(follow_s, speed[0]), speed[: count - follow_s])) / 3
    n = lagged(speed, 2.5) + rng.normal(0, 0.3, count)
    fed = lagged(rate, 3.0)
    inside = lagged(np.concatenate((np.full(25, fed[0]), fed[:-25])), 12.0)  # on its way through the screw
    torque = 20 + 0.1 * n + 0.25 * inside * 300 / np.maximum(n, 1) + rng.normal(0, 0.4, count)
    return {
        "drive.n_set": speed,
        "drive.n": n,
        "motor.torque": torque,
        "motor.current": 60 + 4 * torque + rng.normal(0, 2, count),
        "feed.F1_set": 0.7 * rate,
        "feed.F1": 0.7 * fed + rng.normal(0, 0.3, count),
        "feed.F2_set": 0.3 * rate,
        "feed.F2": 0.3 * fed + rng.normal(0, 0.15, count),
    }


def account_of(tmp_path: Path, columns: dict[str, np.ndarray], shift_s: dict[str, int]) -> ReadingAccount:
    """Reads the line as logged by controllers whose clocks are late by `shift_s`, by what the tag starts with."""
    count = HOURS * 3600
    table = []
    for tag, values in columns.items():
        late = shift_s.get(tag.split(".")[0], 0)
        table.append(np.roll(values, late) if late else values)
    stamps = np.datetime_as_string(np.datetime64("2026-03-06T10:00:00") + np.arange(count).astype("timedelta64[s]"))
    path = tmp_path / "log.csv"
    with path.open("w") as file:
        file.write(",".join(["Time", *columns]) + "\n")
        for stamp, *row in zip(stamps, *table, strict=True):
            file.write(",".join([str(stamp), *(f"{value:.2f}" for value in row)]) + "\n")
    sources = tuple(ChannelSource(tag, key, unit, cell, hold) for tag, (key, unit, cell, hold) in TAGS.items())  # type: ignore[arg-type]
    return read(path, LogMapping("L1", 1.0, "UTC", sources, time_columns=("Time",)))[1]


def said(account: ReadingAccount) -> list[tuple[str, str, int, int]]:
    """(what is behind, ahead, from s, to s) of every sentence on clocks."""
    pattern = re.compile(r"changes of (\S+) stand (\d+) to (\d+) s behind those of (\S+) that")
    found = [pattern.search(one) for one in account.noticed if one.startswith("clocks disagree")]
    return [(one[1], one[4], int(one[2]), int(one[3])) for one in found if one]


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5, 6])
def test_clocks_that_agree_are_not_spoken_of(tmp_path: Path, seed: int) -> None:
    assert said(account_of(tmp_path, line(seed, follow_s=0), {})) == []


@pytest.mark.parametrize("late_s", [5, 8, 12, 20, 35, 60])
@pytest.mark.parametrize("group", ["motor", "drive"])
def test_a_late_clock_between_cause_and_effect_is_said(tmp_path: Path, late_s: int, group: str) -> None:
    account = account_of(tmp_path, line(7, follow_s=0), {group: late_s})
    between = [one for one in said(account) if {"'drive...'", "'motor...'"} == {one[0], one[1]}]
    assert len(between) == 1
    behind, _, low, high = between[0]
    assert behind == f"'{group}...'"
    assert low - 1 <= late_s <= high + 1 and high - low <= 14
    sentence = next(one for one in account.noticed if one.startswith("clocks disagree") and "motor" in one)
    assert account.how_sure[sentence] == "likely"


@pytest.mark.parametrize("late_s", [5, 15, 60])
def test_feeders_behind_the_drive_may_also_be_a_control_that_waits(tmp_path: Path, late_s: int) -> None:
    for number, account in enumerate(
        (
            account_of(tmp_path, line(7, follow_s=0), {"feed": late_s}),
            account_of(tmp_path, line(7, follow_s=late_s), {}),
        )
    ):
        between = [one for one in said(account) if one[:2] == ("'feed...'", "'drive...'")]
        assert len(between) == 1, number
        assert between[0][2] - 1 <= late_s <= between[0][3] + 1
        sentence = next(one for one in account.noticed if "'feed...'" in one and one.startswith("clocks disagree"))
        assert account.how_sure[sentence] == "a guess" and "a control always waits" in sentence


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_events_that_have_nothing_to_do_with_one_another_are_not_used(tmp_path: Path, seed: int) -> None:
    one, other = line(seed, 0), line(seed + 100, 0)
    mixed = {tag: (other if tag.startswith("feed") else one)[tag] for tag in one}
    assert said(account_of(tmp_path, mixed, {})) == []
