"""How long a finding held, in the words of `check`."""

from __future__ import annotations

from typing import get_args

import pytest

from dashboards.clock import PlantClock
from dashboards.command_line.check_summary import time_words
from monitor.records import Finding, Record, RecordKind

MINUTE = 60 * 10**9
T0 = 1_800_000_000 * 10**9


@pytest.mark.parametrize(
    ("kind", "until", "said"),
    [
        ("opened", None, ", open"),
        ("closed", 3, ", until 15 Jan 08:03"),
        ("cut off", None, ", open at the end of the log"),
        ("cut off", 3, ", until 15 Jan 08:03, not judged any longer from there on"),
    ],
)
def test_what_ended_is_not_said_to_be_open(kind: RecordKind, until: int | None, said: str) -> None:
    assert kind in get_args(RecordKind)
    last = Record(
        decided_at=T0 + 5 * MINUTE, seq=1, finding="a", kind=kind, line="twin 1", family="feeder",
        condition="feeder_weight_still", channel="", since=T0, until=None if until is None else T0 + until * MINUTE,
        priority=2, confidence="high", summary="nothing comes",
    )  # fmt: skip

    assert time_words(Finding(T0, last), PlantClock("UTC")) == f"15 Jan 08:00{said}"


def test_a_finding_that_held_while_the_clock_was_put_back_shows_the_offsets() -> None:
    at = 1_792_887_780 * 10**9  # 25 October 2026, 00:23 UTC
    last = Record(
        decided_at=at, seq=1, finding="a", kind="closed", line="twin 1", family="feeder",
        condition="feeder_weight_still", channel="", since=at, until=at + 58 * MINUTE, priority=2,
        confidence="high", summary="nothing comes",
    )  # fmt: skip
    said = time_words(Finding(at, last), PlantClock("Europe/Madrid"))
    assert said == "25 Oct 02:23 (UTC+2), until 25 Oct 02:21 (UTC+1)"
