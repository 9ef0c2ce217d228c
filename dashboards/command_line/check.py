"""`evenmelt check`: judge a finished log."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def check(
    logs: Annotated[list[Path], typer.Argument(metavar="LOG...", help="CSV or Parquet files of one log.")],
    line: Annotated[list[Path], typer.Option("--line", help="Line file; once for each line in the log.")],
    recipe: Annotated[list[Path] | None, typer.Option("--recipe", help="Recipe file; as often as needed.")] = None,
    schedule: Annotated[
        Path | None, typer.Option("--schedule", help="CSV with start, lot, recipe, where the log does not say.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Folder for findings.csv, findings.json, account.json, journal.sqlite.")
    ] = None,
) -> None:
    """Judge a finished log and say what was found.

    Ends with 0 when nothing was found, 1 when something was, 2 when the input cannot be used.
    """
    from dashboards.command_line.check_log import check_logs
    from dashboards.command_line.check_summary import print_summary
    from dashboards.command_line.endings import CLEAN, FINDINGS
    from dashboards.command_line.page import page
    from dashboards.command_line.settings_given import read_settings

    settings = read_settings(line, recipe or [], schedule)
    checked = check_logs(logs, settings, out)
    paper = page()
    print_summary(paper, checked)
    if out is not None:
        paper.print(f"\nWritten to {out}: findings.csv, findings.json, account.json, journal.sqlite")
    raise typer.Exit(FINDINGS if any(one.findings for one in checked) else CLEAN)
