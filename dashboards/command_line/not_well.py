"""What must not end as if all were well: a log of which hardly anything was read, a unit that is likely wrong."""

from __future__ import annotations

from collections.abc import Sequence

from dashboards.command_line.check_log import CheckedLine
from ingest import account as reasons
from ingest.account import ReadingAccount

LOST = (
    reasons.BACKWARDS,
    reasons.LONE_STAMP,
    reasons.NO_TIME,
    reasons.NO_SUCH_TIME,
    reasons.STRANGE_YEAR,
    reasons.WRONG_COLUMNS,
    reasons.OPEN_QUOTE,
)
"""Reasons for which readings that were taken are not judged. A row that overlaps another file is there already."""

MOST, SOME = 0.5, 0.05
_WHAT_TO_DO = {
    reasons.BACKWARDS: "sort the log by time, oldest row first, or export it again in that order",
    reasons.LONE_STAMP: "look at the clock of the logger and correct the stamps",
    reasons.NO_TIME: "name the time column and its form in [log] of the line file, or export the log again",
    reasons.NO_SUCH_TIME: "correct time_zone of the line file, or give a fixed offset such as 'Etc/GMT-1'",
    reasons.STRANGE_YEAR: "look at the clock of the logger and correct the stamps",
    reasons.WRONG_COLUMNS: "export the log again: its rows have not the columns of its head",
    reasons.OPEN_QUOTE: "export the log again: a quotation mark is never closed",
}


def lost_share(account: ReadingAccount) -> float:
    """Share of the rows of the line that were set aside through a fault of the log."""
    others = sum(account.set_aside_by_reason.get(reason, 0) for reason in reasons.EXPECTED_REASONS)
    lost = sum(account.set_aside_by_reason.get(reason, 0) for reason in LOST)
    return lost / max(1, account.rows_read - others)


def hardly_read(checked: Sequence[CheckedLine]) -> list[str]:
    """For each line of which most was set aside: so, and what to do."""
    said = []
    for one in checked:
        if lost_share(one.account) <= MOST:
            continue
        counts = one.account.set_aside_by_reason
        worst = max(LOST, key=lambda reason: counts.get(reason, 0))
        first = next((row for row in one.account.set_aside if row.reason == worst), None)
        where = f", first in {first.file}, row {first.row}" if first else ""
        said.append(
            f"{one.line.name}: most of the log was not judged: of {one.account.rows_read:,} rows "
            f"{counts[worst]:,} had to be set aside because: {worst}{where}. To have it judged, {_WHAT_TO_DO[worst]}."
        )
    return said


def nothing_found(one: CheckedLine) -> str:
    """What is said of a line without findings: no more than what was looked at allows."""
    if one.unit_doubted:
        return (
            "No findings, but this is no word that all was well: a unit or range of the line file is likely wrong (see "
            "what is noticed above), and what goes by it was not judged as it ran."
        )
    if lost_share(one.account) > SOME:
        return "No findings in what could be judged: a part of the log was set aside (see above)."
    return "No findings."
