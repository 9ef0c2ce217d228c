"""Readings that are absurd in the unit of the line file: asked, with the likely unit, and never converted."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ingest.mapping import ChannelSource
from tests.ingest.test_channel_character import about, account_of, course, texts

SPEED = ChannelSource("N", "screw_speed", "rpm", "mean", 15)
RUNNING = texts(np.full(4000, 300.0))


def source(role: str, unit: str) -> ChannelSource:
    """Channel X of a role."""
    return ChannelSource("X", role, unit, "mean", 60)


@pytest.mark.parametrize(
    ("role", "given", "true", "values"),
    [
        ("melt_pressure:die", "bar", "psi", course(1, 2200.0, 30)),  # 2200 psi = 152 bar
        ("melt_pressure:die", "bar", "kPa", course(1, 12_000.0, 30)),
        ("zone_temperature:Z1", "C", "F", course(1, 520.0)),  # 271 C
        ("zone_temperature:Z1", "K", "C", course(1, 210.0)),
        ("torque", "%", "fraction", course(1, 70.0) / 100),
        ("bath_temperature", "C", "F", course(1, 140.0)),
    ],
)
def test_impossible_readings(tmp_path: Path, role: str, given: str, true: str, values: np.ndarray) -> None:
    account = account_of(tmp_path, {"X": texts(values, ".3f"), "N": RUNNING}, (source(role, given), SPEED))
    (said,) = about(account, "hardly possible")
    assert said.startswith("'X': ") and f" {true} (" in said and said.endswith(f"the line file, {given}, counts")
    assert account.how_sure[said] == "likely"


@pytest.mark.parametrize(
    ("role", "given", "values"),
    [
        ("melt_pressure:die", "bar", course(1, 152.0)),
        ("melt_pressure:die", "bar", course(1, 0.4, 0.05)),
        ("melt_pressure:die", "psi", course(1, 2200.0)),
        ("zone_temperature:Z1", "C", course(1, 400.0)),
        ("zone_temperature:Z1", "F", course(1, 520.0)),
        ("zone_temperature:Z1", "C", course(1, 22.0)),
        ("torque", "%", course(1, 70.0)),
        ("zone_output", "%", course(1, 0.3)),
    ],
)
def test_readings_that_can_be(tmp_path: Path, role: str, given: str, values: np.ndarray) -> None:
    subject = role if role != "zone_output" else "zone_output:Z1"
    account = account_of(tmp_path, {"X": texts(values, ".3f"), "N": RUNNING}, (source(subject, given), SPEED))
    assert not about(account, "counts")


def test_a_stopped_machine_is_not_asked_about(tmp_path: Path) -> None:
    columns = {"X": texts(course(1, 0.6, 0.1), ".3f"), "N": texts(np.zeros(4000))}
    assert not about(account_of(tmp_path, columns, (source("torque", "%"), SPEED)), "counts")


def test_a_rate_in_pounds_beside_a_set_point_in_kilograms(tmp_path: Path) -> None:
    wanted = 120.0 + 30.0 * (np.arange(4000) // 1000)
    rate = source("feeder_rate:F1", "kg/h")
    target = ChannelSource("SP", "feeder_setpoint:F1", "kg/h", "last", 86400)
    noise = np.random.default_rng(1).normal(0, 0.5, 4000)
    pounds = account_of(tmp_path, {"X": texts(wanted / 0.45359237 + noise, ".3f"), "SP": texts(wanted)}, (rate, target))
    assert len(about(pounds, "only if one of the two is in lb/h")) == 1
    starved = account_of(tmp_path, {"X": texts(0.7 * wanted + noise, ".3f"), "SP": texts(wanted)}, (rate, target))
    assert not about(starved, "only if")


@pytest.mark.parametrize(("scale", "asked"), [(0.1, "MPa"), (1.0, ""), (0.9, ""), (14.503773773, "psi")])
def test_a_pressure_that_runs_like_its_neighbour(tmp_path: Path, scale: float, asked: str) -> None:
    rng = np.random.default_rng(2)
    melt = course(1, 50.0)
    sources = (
        ChannelSource("X", "melt_pressure:before", "bar", "max", 15),
        ChannelSource("P", "melt_pressure:die", "bar", "max", 15),
    )
    columns = {"X": texts(scale * (1.1 * melt + rng.normal(0, 0.1, 4000)), ".4f"), "P": texts(melt, ".2f")}
    said = about(account_of(tmp_path, columns, sources), "runs like another melt pressure")
    assert any(f"is it in {asked}?" in one for one in said) if asked else not said


def test_a_low_pressure_of_its_own_is_not_asked_about(tmp_path: Path) -> None:
    """A pump's suction at 8 bar beside 80 at the die, each with a course of its own."""
    sources = (
        ChannelSource("X", "melt_pressure:suction", "bar", "max", 15),
        ChannelSource("P", "melt_pressure:die", "bar", "max", 15),
    )
    columns = {"X": texts(course(1, 8.0), ".4f"), "P": texts(course(5, 80.0), ".2f")}
    assert not about(account_of(tmp_path, columns, sources), "runs like")
