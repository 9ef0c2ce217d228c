"""`evenmelt serve`: the pages on journals that exist."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def serve(
    data: Annotated[Path, typer.Option("--data", help="Folder that holds journal.sqlite.")],
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port on this computer; 0 takes any.")] = 8050,
) -> None:
    """Show the pages on a journal that check or watch filled, on this computer only."""
    from dashboards.command_line.journal_place import open_journal
    from dashboards.command_line.pages_server import served
    from monitor.live_clock import StopRequest

    with open_journal(data) as journal:
        from dashboards.app import create_app
        from dashboards.data import JournalData

        stop = StopRequest().on_signals()
        with served(create_app(JournalData(journal)), port) as address:
            print(f"The pages are at {address}  (Ctrl-C ends them)", flush=True)
            while not stop.wait(3600):
                pass
