"""`evenmelt watch`: judge a log while it is being written."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def watch(
    log: Annotated[Path, typer.Argument(metavar="LOG", help="CSV file that grows, or the folder it is written in.")],
    line: Annotated[Path, typer.Option("--line", help="Line file.")],
    data: Annotated[Path, typer.Option("--data", help="Folder for journal.sqlite; the pages read it.")],
    recipe: Annotated[list[Path] | None, typer.Option("--recipe", help="Recipe file; as often as needed.")] = None,
    schedule: Annotated[
        Path | None, typer.Option("--schedule", help="CSV with start, lot, recipe, where the log does not say.")
    ] = None,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="Judge anew from here on, after the line file or a recipe changed.")
    ] = False,
) -> None:
    """Judge a log while it is being written, until Ctrl-C. Started again, it goes on where it was."""
    from dashboards.command_line.page import page
    from dashboards.command_line.settings_given import read_settings
    from dashboards.command_line.watch_log import watch_log

    settings = read_settings([line], recipe or [], schedule)
    watch_log(log, settings, data, fresh=fresh, say=lambda text: page().print(text))
