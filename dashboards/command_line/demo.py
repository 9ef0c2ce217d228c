"""`evenmelt demo`: everything at once on an invented plant."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def demo(
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port on this computer; 0 takes any.")] = 8050,
    speed: Annotated[float, typer.Option("--speed", min=1, max=600, help="Plant seconds in one second.")] = 60.0,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Another seed, another course of events.")] = 1,
    data: Annotated[
        Path | None, typer.Option("--data", help="Folder to keep the demo in; without it, it is thrown away.")
    ] = None,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the pages at once.")] = True,
) -> None:
    """Show an invented plant: finished lots, one line running live, and the pages, on this computer only."""
    from dashboards.command_line.demo_run import run_demo

    run_demo(port, speed, seed, data, browser=browser)
