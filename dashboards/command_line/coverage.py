"""`evenmelt coverage`: what can be watched on a line, and which sensor would let more be watched."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

SHOWN = 14
"""Subjects named of one condition; the rest are counted."""


def coverage(
    line: Annotated[list[Path], typer.Option("--line", help="Line file; as often as needed.")],
    recipe: Annotated[list[Path] | None, typer.Option("--recipe", help="Recipe file; as often as needed.")] = None,
) -> None:
    """Show which conditions are fully, partly or not watched on a line, and what would let them be."""
    from dashboards.command_line.page import page
    from dashboards.command_line.settings_given import read_settings
    from dashboards.recipes_of import recipes_for
    from monitor.coverage import coverage

    settings = read_settings(line, recipe or [], None)
    paper = page()
    for one in settings.lines:
        covered = coverage(one, recipes_for(one.name, settings.recipes))
        paper.print(f"{one.name}  {one.line.title}".rstrip(), style="bold", highlight=False)
        for state, heading in (("full", "watched"), ("part", "watched, would see more"), ("not", "not watched")):
            group = [item for item in covered if item.state == state]
            if not group:
                continue
            paper.print(f"\n{len(group)} {heading}", style="bold", highlight=False)
            for item in group:
                named = [subject for subject in item.watches if subject != "line"]
                more = f" and {len(named) - SHOWN} more" if len(named) > SHOWN else ""
                where = ", ".join(named[:SHOWN]) + more
                paper.print(f"   {item.condition.title}" + (f": {where}" if where else ""), soft_wrap=True)
                for word, wants in (("needs", item.missing), ("sharper with", item.sharper)):
                    if wants:
                        paper.print(f"      {word}: {'; '.join(wants)}", soft_wrap=True, style="dim")
