"""`evenmelt import`: bring a finished log into an archive."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def import_log(
    logs: Annotated[list[Path], typer.Argument(metavar="LOG...", help="CSV or Parquet files of one log.")],
    line: Annotated[list[Path], typer.Option("--line", help="Line file; once for each line in the log.")],
    archive: Annotated[str, typer.Option("--archive", help="Folder, or URL such as file:///data or s3://bucket/data.")],
    set_aside: Annotated[
        Path | None, typer.Option("--set-aside", help="CSV to be written with every row that could not be used.")
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would be new, and write nothing.")] = False,
) -> None:
    """Bring a finished log into an archive: read, mapped and checked, but not judged.

    What the archive has already is left as it is, so an import that was cut off is simply repeated.
    Ends with 0 when all is in the archive, 1 when readings contradict what it holds, 2 when the input cannot be used.
    """
    from dashboards.command_line.endings import CLEAN, FINDINGS
    from dashboards.command_line.holds_told import mapping_with_holds
    from dashboards.command_line.import_summary import print_import
    from dashboards.command_line.page import page
    from dashboards.command_line.progress import shown_progress
    from dashboards.command_line.settings_given import read_settings
    from ingest.account import LIKELY
    from ingest.archive.import_log import import_log as bring
    from ingest.set_aside_list import ListingAccount, write_set_aside

    settings = read_settings(line, [], None)
    paper, accounts, contradicting = page(), list[tuple[str, ListingAccount]](), 0
    for number, one in enumerate(settings.lines):
        account = ListingAccount()
        mapping, holds = mapping_with_holds(logs, one)
        for said in holds:
            account.assume(said, LIKELY)
        with shown_progress(f"{one.name}: {'reading' if dry_run else 'importing'}") as progress:
            report = bring(logs, mapping, archive, account=account, progress=progress, dry=dry_run)
        accounts.append((one.name, account))
        contradicting += report.brought.contradicting
        if number:
            paper.print()
        print_import(paper, one, report, archive, dry=dry_run)
    if set_aside is not None:
        count = write_set_aside(set_aside, accounts)
        paper.print(f"\nWritten to {set_aside}: {count:,} {'row' if count == 1 else 'rows'} that could not be used")
    raise typer.Exit(FINDINGS if contradicting else CLEAN)
