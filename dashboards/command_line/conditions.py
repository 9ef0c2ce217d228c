"""`evenmelt conditions`: what the monitor can recognise."""

from __future__ import annotations


def conditions() -> None:
    """List the conditions the monitor can recognise."""
    from dashboards.command_line.page import page
    from monitor.conditions.registry import CONDITIONS

    paper = page()
    for condition in CONDITIONS:
        paper.print(condition.title, style="bold", highlight=False)
        needs = ", ".join(condition.needs)
        paper.print(f"  {condition.name}, {condition.family}" + (f"; needs {needs}" if needs else ""))
