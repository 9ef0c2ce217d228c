"""The reading account in sentences: what was read, what was left out and why."""

from __future__ import annotations

from collections.abc import Iterator

from dashboards.clock import duration
from ingest.account import EXPECTED_REASONS, ReadingAccount

NAMED = 4
"""Tags or rows named one by one; the rest is counted and stands in account.json."""


def account_sentences(account: ReadingAccount) -> Iterator[str]:
    """One sentence for each thing a person should know of the reading."""
    files = "1 file" if len(account.files) == 1 else f"{len(account.files)} files"
    all_taken = ", all accepted" if not account.rows_set_aside else f", {account.rows_accepted:,} accepted"
    yield f"{account.rows_read:,} rows in {files}{all_taken}"
    for reason, count in sorted(account.set_aside_by_reason.items(), key=lambda item: -item[1]):
        first = next((one for one in account.set_aside if one.reason == reason), None)
        where = f", first in row {first.row} of {first.file}" if first and reason not in EXPECTED_REASONS else ""
        yield f"{count:,} set aside: {reason}{where}"
    for tag, bad in list(account.values_unreadable.items())[:NAMED]:
        yield f"{bad.count:,} values of {tag} are no numbers, first '{bad.text}' in row {bad.row}"
    if len(account.values_unreadable) > NAMED:
        yield f"{len(account.values_unreadable) - NAMED} more tags have values that are no numbers"
    if missing := sum(account.values_missing.values()):
        yield f"{missing:,} values of {len(account.values_missing)} tags are empty or say 'no reading'"
    for tag, numbers in list(account.values_sentinel.items())[:NAMED]:
        said = ", ".join(f"{number} ({count:,} times)" for number, count in numbers.items())
        yield f"{tag}: {said} is nothing it can show and is taken as 'no reading' (sure)"
    if len(account.values_sentinel) > NAMED:
        yield f"{len(account.values_sentinel) - NAMED} more tags have such numbers"
    if outside := sum(account.values_out_of_range.values()):
        yield f"{outside:,} values of {len(account.values_out_of_range)} tags are outside the range of their sensors"
    if account.silent_tags:
        named = ", ".join(account.silent_tags[:NAMED])
        more = f" and {len(account.silent_tags) - NAMED} more" if len(account.silent_tags) > NAMED else ""
        yield f"no reading at all of {named}{more}: nothing is judged by them"
    if account.duplicates:
        yield f"{account.duplicates:,} rows repeat an earlier time"
    if account.out_of_order:
        yield f"{account.out_of_order:,} rows stood out of order and were sorted in"
    if account.gap_count:
        gaps = "1 gap" if account.gap_count == 1 else f"{account.gap_count:,} gaps"
        yield f"{gaps} without rows, {duration(account.gap_s)} in all"
    if account.clock_step_count:
        times = "once" if account.clock_step_count == 1 else f"{account.clock_step_count} times"
        yield f"the clock of the log steps back {times}"
    yield from (f"assumed: {sentence}{_sure(account, sentence)}" for sentence in account.assumptions)
    yield from (f"noticed: {sentence}{_sure(account, sentence)}" for sentence in account.noticed)


def _sure(account: ReadingAccount, sentence: str) -> str:
    level = account.how_sure.get(sentence, "")
    return f" ({level})" if level else ""
