"""The findings table: exact times, stable order, whole files."""

from __future__ import annotations

import csv
import itertools
import json
import os

import pytest

from monitor import findings_table
from monitor.findings_table import COLUMNS, iso_utc, write_findings_csv, write_findings_json
from monitor.records import Cause, Evidence, Record, findings

S = 1_000_000_000
T0 = 1_772_430_000 * S


def a_record(finding: str, kind: str, since: int, until: int | None = None, seq: int = 1, **more) -> Record:
    base = {
        "decided_at": since + 60 * S, "seq": seq, "finding": finding, "kind": kind, "line": "Line 3",
        "family": "drift", "condition": "slow_drift", "channel": "torque", "since": since, "until": until,
        "priority": 3, "confidence": "medium", "summary": 'torque drifts, "slowly"',
        "evidence": (Evidence("torque", 55.25, "%", 50.0, 3.1, "torque"), Evidence("no speed change", None, "")),
        "causes": (Cause("screen blinding", ("pressure up",)), Cause("cold melt")),
        "checks": ("look at the screen",), "lot": "Ñ-7",
    }  # fmt: skip
    return Record(**(base | more))


def rows(path) -> list[dict[str, str]]:
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize(
    ("at_ns", "text"),
    [
        (0, "1970-01-01T00:00:00Z"),
        (T0, "2026-03-02T05:40:00Z"),
        (T0 + 1, "2026-03-02T05:40:00.000000001Z"),
        (T0 + S // 2, "2026-03-02T05:40:00.5Z"),
        (-1, "1969-12-31T23:59:59.999999999Z"),
    ],
)
def test_iso_utc_is_exact(at_ns, text):
    assert iso_utc(at_ns) == text


def test_one_row_says_it_all(tmp_path):
    records = [
        a_record("aa", "opened", T0),
        a_record("aa", "closed", T0, T0 + 90 * S, 2, decided_at=T0 + 120 * S),
    ]
    write_findings_csv(tmp_path / "findings.csv", findings(records))

    text = (tmp_path / "findings.csv").read_text(encoding="utf-8")
    assert text.splitlines()[0] == (
        "start,end,decided_at,line,family,condition,channel,priority,confidence,summary,"
        "lot,recipe,evidence,causes,checks,caution,part_of,id,state,kind"
    )
    assert rows(tmp_path / "findings.csv") == [
        {
            "start": "2026-03-02T05:40:00Z", "end": "2026-03-02T05:41:30Z", "decided_at": "2026-03-02T05:41:00Z",
            "line": "Line 3", "family": "drift", "condition": "slow_drift", "channel": "torque", "priority": "3",
            "confidence": "medium", "summary": 'torque drifts, "slowly"', "lot": "Ñ-7", "recipe": "",
            "evidence": "torque 55.2 %, expected 50.0 (3.1 sigma) | no speed change",
            "causes": "screen blinding | cold melt", "checks": "look at the screen", "caution": "", "part_of": "",
            "id": "aa", "state": "closed", "kind": "closed",
        }
    ]  # fmt: skip


def test_states(tmp_path):
    records = [
        a_record("open", "opened", T0),
        a_record("end", "cut off", T0 + S, decided_at=T0 + 900 * S),
        a_record("gap", "cut off", T0 + 2 * S, decided_at=T0 + 500 * S),
        a_record("over", "closed", T0 + 3 * S, T0 + 4 * S),
    ]
    write_findings_csv(tmp_path / "f.csv", findings(records), {"Line 3": T0 + 900 * S})

    assert [(row["id"], row["state"], row["end"]) for row in rows(tmp_path / "f.csv")] == [
        ("open", "open", ""),
        ("end", "open at end of log", ""),
        ("gap", "open when readings stopped", ""),
        ("over", "closed", "2026-03-02T05:40:04Z"),
    ]


def test_order_does_not_depend_on_how_they_were_gathered(tmp_path):
    found = findings(
        [
            a_record("a", "opened", T0, priority=2), a_record("b", "opened", T0, priority=1),
            a_record("c", "opened", T0, priority=1, line="Line 1"), a_record("d", "opened", T0 - S, priority=4),
        ]
    )  # fmt: skip
    texts = set()
    for order in itertools.permutations(found):
        write_findings_csv(tmp_path / "f.csv", order)
        texts.add((tmp_path / "f.csv").read_text())

    assert len(texts) == 1
    assert [row["id"] for row in rows(tmp_path / "f.csv")] == ["d", "c", "b", "a"]


def test_json_holds_the_evidence_in_full(tmp_path):
    write_findings_json(tmp_path / "f.json", findings([a_record("aa", "opened", T0)]))

    content = json.loads((tmp_path / "f.json").read_text(encoding="utf-8"))
    (one,) = content["findings"]
    assert content["format"] == 1
    assert set(COLUMNS) <= set(one)
    assert one["end"] is None and one["priority"] == 3 and one["priority_words"] == "look this shift"
    assert one["causes"] == [
        {"text": "screen blinding", "speaks_for": ["pressure up"], "speaks_against": [], "shown_by": []},
        {"text": "cold melt", "speaks_for": [], "speaks_against": [], "shown_by": []},
    ]
    assert one["evidence"][0] == {
        "what": "torque", "value": 55.25, "unit": "%", "expected": 50.0, "sigma": 3.1, "channel": "torque",
        "sentence": "torque 55.2 %, expected 50.0 (3.1 sigma)",
    }  # fmt: skip


def test_no_findings_still_make_a_table(tmp_path):
    write_findings_csv(tmp_path / "f.csv", [])

    assert (tmp_path / "f.csv").read_text() == ",".join(COLUMNS) + "\n"


def test_a_failed_write_leaves_the_old_file_and_nothing_beside_it(tmp_path, monkeypatch):
    write_findings_csv(tmp_path / "f.csv", [])
    before = (tmp_path / "f.csv").read_bytes()

    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(findings_table.os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_findings_csv(tmp_path / "f.csv", findings([a_record("aa", "opened", T0)]))

    assert (tmp_path / "f.csv").read_bytes() == before
    assert os.listdir(tmp_path) == ["f.csv"]


def test_the_table_is_as_readable_as_other_files(tmp_path):
    (tmp_path / "plain").write_text("")
    write_findings_csv(tmp_path / "f.csv", [])

    assert (tmp_path / "f.csv").stat().st_mode == (tmp_path / "plain").stat().st_mode
