"""`evenmelt serve`: the pages on journals that exist."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def serve(
    data: Annotated[Path, typer.Option("--data", help="Folder that holds journal.sqlite.")],
    lines: Annotated[
        Path | None,
        typer.Option("--lines", help="Folder of line and recipe files that the pages may show, change and add to."),
    ] = None,
    archive: Annotated[
        str, typer.Option("--archive", help="Folder or URL of an archive: readings that the journal does not hold.")
    ] = "",
    new: Annotated[
        bool, typer.Option("--new", help="Begin a journal where there is none: for a log brought through the pages.")
    ] = False,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port on this computer; 0 takes any.")] = 8050,
) -> None:
    """Show the pages on a journal that check or watch filled, on this computer only.

    With --new the journal may be empty: the pages then lead to the demo or to a log of one's own.
    """
    from dashboards.command_line.journal_place import open_journal
    from dashboards.command_line.pages_server import served
    from monitor.live_clock import StopRequest

    with open_journal(data, create=new, archive=archive) as journal:
        from dashboards.app import create_app
        from dashboards.data import JournalData
        from dashboards.workshop.places import Places

        stop = StopRequest().on_signals()
        with served(create_app(JournalData(journal), places=Places(data, lines)), port) as address:
            print(f"The pages are at {address}  (Ctrl-C ends them)", flush=True)
            while not stop.wait(3600):
                pass
