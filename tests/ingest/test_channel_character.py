"""How channels are written, recognised from logs made here in a known way; and what must not be said of plain ones."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from ingest.account import ReadingAccount
from ingest.mapping import ChannelSource, LogMapping
from tests.ingest.plain_log import read

COUNT = 4000
ZONE = ChannelSource("T", "zone_temperature:Z1", "C", "mean", 60)
SETPOINT = ChannelSource("SP", "zone_setpoint:Z1", "C", "last", 86400)


def course(seed: int, middle: float = 210.0, noise: float = 0.5) -> np.ndarray:
    """A slow wander with noise."""
    rng = np.random.default_rng(seed)
    return middle + np.cumsum(rng.normal(0, 0.05, COUNT)) + rng.normal(0, noise, COUNT)


def account_of(
    tmp_path: Path, columns: dict[str, list[str]], sources: tuple[ChannelSource, ...], **changes: object
) -> ReadingAccount:
    """Reads a wide log of one row a second whose columns are texts."""
    count = len(next(iter(columns.values())))
    stamps = np.datetime_as_string(np.datetime64("2026-03-06T10:00:00") + np.arange(count).astype("timedelta64[s]"))
    path = tmp_path / "log.csv"
    rows = [",".join([str(stamp), *cells]) for stamp, *cells in zip(stamps, *columns.values(), strict=True)]
    path.write_text("\n".join([",".join(["Time", *columns]), *rows]) + "\n")
    fields = {"line": "L1", "cadence_s": 1.0, "time_zone": "UTC", "channels": sources, "time_columns": ("Time",)}
    account = ReadingAccount()
    account = read(path, LogMapping(**{**fields, **changes}))[1]  # type: ignore[arg-type]
    assert account.rows_read == account.rows_accepted + account.rows_set_aside == count
    return account


def texts(values: np.ndarray, form: str = ".1f") -> list[str]:
    """Numbers as a logger writes them; NaN is an empty cell."""
    return ["" if np.isnan(one) else format(one, form) for one in values]


def about(account: ReadingAccount, words: str) -> list[str]:
    """What was noticed that has these words."""
    return [one for one in account.noticed if words in one]


def deadbanded(values: np.ndarray, band: float) -> np.ndarray:
    """Only written anew when it moved by more than a band."""
    out, last = np.empty(len(values)), values[0]
    for i, value in enumerate(values):
        if abs(value - last) >= band:
            last = value
        out[i] = last
    return out


def test_a_plain_channel_is_not_spoken_of(tmp_path: Path) -> None:
    account = account_of(tmp_path, {"T": texts(course(1))}, (ZONE,))
    assert account.noticed == []
    found = account.characters["T"]
    assert (found["resolution"], found["every_s"], found["spikes"]) == (0.1, 1.0, 0)


@pytest.mark.parametrize(("form", "scale", "step"), [(".2f", 1, 0.01), (".1f", 1, 0.1), (".0f", 1, 1.0)])
def test_resolution_is_in_the_unit_of_the_log(tmp_path: Path, form: str, scale: float, step: float) -> None:
    fahrenheit = ChannelSource("T", "zone_temperature:Z1", "F", "mean", 60)
    account = account_of(tmp_path, {"T": texts(course(1, 410.0, 3.0), form)}, (fahrenheit,))
    assert account.characters["T"]["resolution"] == step
    assert bool(about(account, "whole numbers")) == (step == 1.0)


def test_halves_and_fives(tmp_path: Path) -> None:
    columns = {"T": texts(np.round(course(1, noise=3.0) * 2) / 2), "SP": texts(np.round(course(2, noise=9.0) / 5) * 5)}
    account = account_of(tmp_path, columns, (ZONE, SETPOINT))
    assert account.characters["T"]["resolution"] == 0.5
    assert account.characters["SP"]["resolution"] == 5.0


def test_a_deadband_is_recognised(tmp_path: Path) -> None:
    account = account_of(tmp_path, {"T": texts(deadbanded(course(1), 1.0))}, (ZONE,))
    assert len(about(account, "'T' is written only when it moved by more than a deadband")) == 1


def test_a_slow_channel_beside_a_fast_one(tmp_path: Path) -> None:
    slow = course(2)
    slow[np.arange(COUNT) % 10 != 0] = np.nan
    held = np.repeat(course(3)[::10], 10)
    account = account_of(tmp_path, {"T": texts(course(1)), "SP": texts(slow)}, (ZONE, SETPOINT))
    assert about(account, "'SP' is written at five times the 1 s of the fastest tags")
    assert account.characters["SP"]["every_s"] == 10
    account = account_of(tmp_path, {"T": texts(course(1)), "SP": texts(held, ".2f")}, (ZONE, SETPOINT))
    assert about(account, "'SP' is written anew only every few rows and repeated between")
    assert account.characters["SP"]["repeats"] == 10


def test_value_on_change_at_uneven_times(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    at = np.cumsum(rng.exponential(7.0, 2000) + 0.5)
    stamps = np.datetime_as_string(np.datetime64("2026-03-06T10:00:00.000") + (1000 * at).astype("timedelta64[ms]"))
    value = np.round(200 + np.cumsum(rng.choice([-0.2, -0.1, 0.1, 0.2], 2000)), 1)
    path = tmp_path / "log.csv"
    path.write_text("Time,Tag,Value\n" + "".join(f"{t},T,{v}\n" for t, v in zip(stamps, value, strict=True)))
    fields = {"layout": "long", "tag_column": "Tag", "value_column": "Value", "time_columns": ("Time",)}
    account = read(path, LogMapping("L1", 1.0, "UTC", (ZONE,), **fields))[1]  # type: ignore[arg-type]
    assert about(account, "'T' is written at uneven times and never the same twice running")


def test_single_spikes_are_counted(tmp_path: Path) -> None:
    values = course(1)
    values[[100, 555, 900]] += [80, -60, 120]
    account = account_of(tmp_path, {"T": texts(values)}, (ZONE,))
    assert account.characters["T"]["spikes"] == 3
    assert about(account, "3 of them in the rows looked at: 'T'")


@pytest.mark.parametrize("number", ["32767", "-9999", "6553.5", "1e30", "3.4028235e38", "-32768"])
def test_an_unmistakable_number_is_no_reading_and_said(tmp_path: Path, number: str) -> None:
    column = texts(course(1))
    column[50:60] = [number] * 10
    account = account_of(tmp_path, {"T": column}, (ZONE,))
    assert account.values_sentinel == {"T": {f"{float(number):.10g}": 10}}
    assert account.values_missing == {"T": 10}


@pytest.mark.parametrize("number", ["-99.9", "-99.99", "-99"])
def test_short_nines_are_no_reading_where_no_sensor_can_show_them_and_one_where_it_can(
    tmp_path: Path, number: str
) -> None:
    pressure = ChannelSource("P", "melt_pressure:P1", "MPa", "max", 15)
    output = ChannelSource("Y", "zone_output:Z1", "%", "mean", 60)
    p, y = texts(course(1, 5.4)), texts(course(1, 20.0))
    p[50:60] = y[50:60] = [number] * 10
    account = account_of(tmp_path, {"P": p, "Y": y}, (pressure, output))
    assert account.values_sentinel == {"P": {number: 10}}
    assert account.values_missing == {"P": 10}


@pytest.mark.parametrize(
    ("number", "level"),
    [("850.0", "likely"), ("999.9", "likely"), ("512.3", None), ("0.0", "a guess"), ("-77.7", "a guess")],
)
def test_other_numbers_are_noticed_and_left(tmp_path: Path, number: str, level: str | None) -> None:
    column = texts(course(1, 60.0 if number == "-77.7" else 210.0))
    for i in range(10, 3000, 300):
        column[i] = number
    account = account_of(tmp_path, {"T": column}, (ZONE,))
    assert account.values_missing == account.values_sentinel == {}
    said = about(account, f"is exactly {float(number):g} in 10 cells")
    if number == "512.3":
        assert [account.how_sure[one] for one in said] == ["a guess"]
        return
    assert [account.how_sure[one] for one in said] == [level]
    named = {"zero_is_missing": ("T",)} if number == "0.0" else {"missing_values": (number,)}
    account = account_of(tmp_path, {"T": column}, (ZONE,), **named)
    assert account.values_missing == {"T": 10}
    assert not about(account, "is exactly")


def test_a_machine_that_stands_still_is_no_sentinel(tmp_path: Path) -> None:
    speed = course(1, 400.0)
    speed[1000:1400] = 0.0
    source = ChannelSource("N", "screw_speed", "rpm", "mean", 15)
    assert account_of(tmp_path, {"N": texts(speed)}, (source,)).noticed == []


@pytest.mark.parametrize(
    ("target", "level"),
    [
        (lambda i: 210 + 5 * (i // 800), "sure"),
        (lambda i: 210 + 5 * (i // 2500), "likely"),
        (lambda i: 0 * i + 210, "a guess"),
    ],
)
def test_an_actual_that_is_the_set_point(
    tmp_path: Path, target: Callable[[np.ndarray], np.ndarray], level: str
) -> None:
    wanted = texts(target(np.arange(COUNT)).astype(float))
    account = account_of(tmp_path, {"T": wanted, "SP": wanted}, (ZONE, SETPOINT))
    said = about(account, "'T' equals its set-point 'SP' in every reading looked at")
    assert [account.how_sure[one] for one in said] == [level]


def test_a_zone_in_whole_degrees_on_its_set_point_for_most_of_the_time_is_none(tmp_path: Path) -> None:
    wanted = 210 + 5 * (np.arange(COUNT) // 2500)
    actual = np.round(wanted + np.random.default_rng(3).normal(0, 0.3, COUNT))
    assert 0.8 < np.mean(actual == wanted) < 0.99
    account = account_of(tmp_path, {"T": texts(actual, ".0f"), "SP": texts(wanted.astype(float))}, (ZONE, SETPOINT))
    assert not about(account, "equals its set-point")


def test_values_out_of_range_are_counted(tmp_path: Path) -> None:
    column = texts(course(1))
    column[5:9] = ["420.0"] * 4
    source = ChannelSource("T", "zone_temperature:Z1", "C", "mean", 60, low=0, high=400)
    assert account_of(tmp_path, {"T": column}, (source,)).values_out_of_range == {"T": 4}


def test_a_channel_in_another_unit_keeps_its_9999(tmp_path: Path) -> None:
    """A pressure in kPa whose line file says bar passes through 9999; nothing is taken, and the unit is asked about."""
    values = 9950.0 + np.arange(COUNT) % 100
    source = ChannelSource("P", "melt_pressure:die", "bar", "max", 15)
    account = account_of(tmp_path, {"P": texts(values)}, (source,))
    assert account.values_sentinel == account.values_missing == {}
    assert about(account, "kPa (")


@pytest.mark.parametrize(("middle", "noise"), [(2.4, 0.05), (-0.5, 0.4)])
def test_small_readings_with_decimals_are_no_whole_numbers(tmp_path: Path, middle: float, noise: float) -> None:
    rng = np.random.default_rng(5)
    account = account_of(tmp_path, {"T": texts(middle + rng.normal(0, noise, COUNT), ".2f")}, (ZONE,))
    assert not about(account, "whole numbers")
    assert account.characters["T"]["resolution"] == 0.01
