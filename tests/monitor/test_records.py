"""Records and the findings they fold into."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.records import Cause, Evidence, Finding, Record, figure, finding_id, findings

S = 1_000_000_000


def a_record(finding: str = "a", kind: str = "opened", seq: int = 1, **given: Any) -> Record:
    base: dict[str, Any] = {
        "decided_at": 100 * S + seq, "seq": seq, "finding": finding, "kind": kind, "line": "L", "family": "drift",
        "condition": "drift", "channel": "torque", "since": 50 * S, "until": None, "priority": 3,
        "confidence": "low", "summary": "it creeps",
    }  # fmt: skip
    return Record(**(base | given))


TEXT = st.text(max_size=12)
TEXTS = st.lists(TEXT, max_size=2).map(tuple)
MAYBE = st.one_of(st.none(), st.floats())
EVIDENCE = st.builds(Evidence, what=TEXT, value=MAYBE, unit=TEXT, expected=MAYBE, sigma=MAYBE, channel=TEXT)
RECORDS = st.builds(
    a_record,
    finding=TEXT,
    seq=st.integers(1, 10**9),
    decided_at=st.integers(0, 2**63 - 1),
    until=st.one_of(st.none(), st.integers(0, 2**63 - 1)),
    evidence=st.lists(EVIDENCE, max_size=3).map(tuple),
    causes=st.lists(st.builds(Cause, TEXT, TEXTS, TEXTS, TEXTS), max_size=3).map(tuple),
    checks=st.lists(TEXT, max_size=3).map(tuple),
    summary=TEXT,
    caution=TEXT,
    lot=TEXT,
    part_of=TEXT,
)


@settings(deadline=None, max_examples=150)
@given(RECORDS)
def test_one_line_of_true_json_that_reads_back_equal(record: Record) -> None:
    text = record.as_json()

    assert "\n" not in text
    json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    assert Record.from_json(text) == record
    assert Record.from_json(text).as_json() == text


@pytest.mark.parametrize("odd", [math.nan, math.inf, -math.inf])
def test_evidence_knows_no_odd_numbers(odd: float) -> None:
    assert Evidence("torque", odd, "%", odd, odd) == Evidence("torque", None, "%", None, None)


@pytest.mark.parametrize(
    ("evidence", "sentence"),
    [
        (Evidence("no speed change", None, "rpm"), "no speed change"),
        (Evidence("torque", 55.25, "%"), "torque 55.2 %"),
        (Evidence("torque", 5.256, "%", 6.0, -3.14), "torque 5.26 %, expected 6.00 (3.1 sigma)"),
        (Evidence("rate fed", 1234.5, "kg/h", 1500.0), "rate fed 1234 kg/h, expected 1500"),
        (Evidence("zones not rising", 4.0, ""), "zones not rising 4.00"),
    ],
)
def test_a_fact_as_a_person_reads_it(evidence: Evidence, sentence: str) -> None:
    assert evidence.sentence() == sentence


def test_an_episode_has_one_name_and_no_other_has_it() -> None:
    name = finding_id("L", "starved", "line", 5)

    assert name == finding_id("L", "starved", "line", 5) and len(name) == 16
    others = [("M", "starved", "line", 5), ("L", "flooded", "line", 5), ("L", "starved", "F1", 5)]
    assert len({name, *(finding_id(*other) for other in others), finding_id("L", "starved", "line", 6)}) == 5


def plainly_folded(records: list[Record]) -> dict[str, tuple[int, Record, int]]:
    """First decision, last record and their number, the slow way: each finding looked up in the whole log."""
    out = {}
    for name in {record.finding for record in records}:
        own = [record for record in records if record.finding == name]
        out[name] = (own[0].decided_at, own[-1], len(own))
    return out


LOGS = st.lists(
    st.tuples(st.sampled_from("abcd"), st.sampled_from(["opened", "revised", "closed", "cut off"]), st.integers(1, 4)),
    max_size=20,
).map(lambda items: [a_record(n, k, i + 1, priority=p, since=ord(n) % 2 * S) for i, (n, k, p) in enumerate(items)])


@settings(deadline=None, max_examples=150)
@given(LOGS)
def test_findings_are_the_last_word_on_each_episode(records: list[Record]) -> None:
    folded = findings(records)

    plain = plainly_folded(records)
    assert {f.last.finding: (f.first_decided_at, f.last, f.revisions) for f in folded} == plain
    order = [(f.last.since, f.last.priority, f.last.condition, f.last.channel) for f in folded]
    assert order == sorted(order)
    assert all(f.open == (f.last.kind in ("opened", "revised")) for f in folded)


def test_folding_takes_any_iterable_once() -> None:
    found = findings(iter([a_record(seq=1), a_record(kind="closed", seq=2, until=60 * S)]))

    assert found == [Finding(100 * S + 1, a_record(kind="closed", seq=2, until=60 * S), 2)]


def test_a_figure_of_nothing_has_no_sign() -> None:
    assert [figure(value) for value in (-0.001, 0.0, -0.04, -12.04)] == ["0.00", "0.00", "-0.04", "-12.0"]
