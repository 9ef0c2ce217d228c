"""Writes the findings of a log as a table for people and spreadsheets (CSV) and in full (JSON).

Times are ISO 8601 in UTC. Rows are ordered by start, then priority, condition and channel. A file is written
beside its place and moved there, so that a reader never sees half of one.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import os
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from monitor.records import PRIORITY_WORDS, Finding

COLUMNS: tuple[str, ...] = (
    "start", "end", "decided_at", "line", "family", "condition", "channel", "priority", "confidence", "summary",
    "lot", "recipe", "evidence", "causes", "checks", "caution", "part_of", "id", "state", "kind",
)  # fmt: skip
"""Columns of findings.csv, in order."""

BETWEEN = " | "
"""Stands between several causes, checks or pieces of evidence in one cell."""

_SECOND_NS = 1_000_000_000


def iso_utc(at_ns: int) -> str:
    """'2026-03-02T06:29:00Z', with as many digits of a second as it takes to be exact."""
    seconds, rest = divmod(at_ns, _SECOND_NS)
    text = (dt.datetime(1970, 1, 1) + dt.timedelta(seconds=seconds)).isoformat()
    return f"{text}.{rest:09d}".rstrip("0") + "Z" if rest else f"{text}Z"


def state_of(finding: Finding, log_ends: Mapping[str, int]) -> str:
    """How the finding stands, in words. log_ends: end of each line's finished log, UTC nanoseconds."""
    if finding.open:
        return "open"
    if finding.last.kind == "closed":
        return "closed"
    end = log_ends.get(finding.last.line)
    return "open at end of log" if end is None or finding.last.decided_at >= end else "open when readings stopped"


def in_order(findings: Sequence[Finding]) -> list[Finding]:
    """The order of rows, the same however the findings were gathered."""
    return sorted(
        findings,
        key=lambda f: (
            f.last.since, f.last.priority, f.last.line, f.last.condition, f.last.channel, f.last.finding,
        ),
    )  # fmt: skip


def row_of(finding: Finding, log_ends: Mapping[str, int]) -> dict[str, str]:
    """One row of the table; what is not known is empty."""
    last = finding.last
    return {
        "start": iso_utc(last.since),
        "end": "" if last.until is None else iso_utc(last.until),
        "decided_at": iso_utc(finding.first_decided_at),
        "line": last.line,
        "family": last.family,
        "condition": last.condition,
        "channel": last.channel,
        "priority": str(last.priority),
        "confidence": last.confidence,
        "summary": last.summary,
        "lot": last.lot,
        "recipe": last.recipe,
        "evidence": BETWEEN.join(item.sentence() for item in last.evidence),
        "causes": BETWEEN.join(last.cause_texts),
        "checks": BETWEEN.join(last.checks),
        "caution": last.caution,
        "part_of": last.part_of,
        "id": last.finding,
        "state": state_of(finding, log_ends),
        "kind": last.kind,
    }


def object_of(finding: Finding, log_ends: Mapping[str, int]) -> dict[str, Any]:
    """One finding of findings.json: the columns, with evidence, causes and checks as lists."""
    last = finding.last
    full: dict[str, Any] = dict(row_of(finding, log_ends))
    full |= {
        "end": None if last.until is None else iso_utc(last.until),
        "priority": last.priority,
        "priority_words": PRIORITY_WORDS.get(last.priority, ""),
        "last_decided_at": iso_utc(last.decided_at),
        "revisions": finding.revisions,
        "evidence": [asdict(item) | {"sentence": item.sentence()} for item in last.evidence],
        "causes": [asdict(cause) for cause in last.causes],
        "checks": list(last.checks),
    }
    return full


def write_findings_csv(path: Path, findings: Sequence[Finding], log_ends: Mapping[str, int] | None = None) -> None:
    """Write findings.csv: UTF-8, comma separated, one row a finding. Raises OSError."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(row_of(finding, log_ends or {}) for finding in in_order(findings))
    write_whole(path, text.getvalue())


def write_findings_json(path: Path, findings: Sequence[Finding], log_ends: Mapping[str, int] | None = None) -> None:
    """Write findings.json: {"format": 1, "findings": [...]}. Raises OSError."""
    content = {
        "format": 1,
        "findings": [object_of(finding, log_ends or {}) for finding in in_order(findings)],
    }
    write_whole(path, json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def write_whole(path: Path, text: str) -> None:
    """Put the text at `path` in one move: whoever reads it sees the old file or the new one. Raises OSError."""
    handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(beside, 0o666 & ~_umask())
        os.replace(beside, path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise


def _umask() -> int:
    # A temporary file is private; the table should be as readable as any other file of this person.
    mask = os.umask(0)
    os.umask(mask)
    return mask
