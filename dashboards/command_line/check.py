"""`evenmelt check`: judge a finished log."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

NOTE = 4
"""Findings of this priority ask nothing of anybody."""


def check(
    line: Annotated[list[Path], typer.Option("--line", help="Line file; once for each line in the log.")],
    logs: Annotated[
        list[Path] | None, typer.Argument(metavar="LOG...", help="CSV or Parquet files of one log.")
    ] = None,
    recipe: Annotated[list[Path] | None, typer.Option("--recipe", help="Recipe file; as often as needed.")] = None,
    schedule: Annotated[
        Path | None, typer.Option("--schedule", help="CSV with start, lot, recipe, where the log does not say.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", help="Folder for findings.csv, findings.json, account.json, set_aside.csv, journal.sqlite."
        ),
    ] = None,
    reference: Annotated[
        list[Path] | None, typer.Option("--reference", help="Reference learned by 'evenmelt learn'; one a line.")
    ] = None,
    archive: Annotated[
        str, typer.Option("--from-archive", metavar="URL", help="Archive to be judged in the place of a log.")
    ] = "",
    start: Annotated[str, typer.Option("--from", help="Start in the archive, ISO 8601, plant local time.")] = "",
    end: Annotated[str, typer.Option("--to", help="End in the archive.")] = "",
) -> None:
    """Judge a finished log and say what was found.

    Ends with 0 when nothing was found but notes, 1 when something was, or a unit of the line file is likely wrong, 2
    when the input cannot be used, or most of the log had to be set aside.
    """
    from dashboards.command_line.archive_span import span_given
    from dashboards.command_line.check_log import check_logs
    from dashboards.command_line.check_summary import print_summary
    from dashboards.command_line.endings import CLEAN, FINDINGS
    from dashboards.command_line.not_well import hardly_read
    from dashboards.command_line.page import page
    from dashboards.command_line.references_given import no_longer_holds, read_references
    from dashboards.command_line.settings_given import read_settings
    from dashboards.command_line.told import Told

    settings = read_settings(line, recipe or [], schedule)
    settings = replace(settings, references=read_references(reference or [], settings))
    checked = check_logs(logs or [], settings, out, span_given(logs or [], archive, start, end))
    paper = page()
    print_summary(paper, checked, out)
    for said in no_longer_holds(settings):
        paper.print(said, highlight=False)
    if out is not None:
        paper.print(f"\nWritten to {out}: findings.csv, findings.json, account.json, set_aside.csv, journal.sqlite")
    if lost := hardly_read(checked):
        raise Told("\n".join(lost))
    found = any(one.unit_doubted or any(f.last.priority < NOTE for f in one.findings) for one in checked)
    raise typer.Exit(FINDINGS if found else CLEAN)
