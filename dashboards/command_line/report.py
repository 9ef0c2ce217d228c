"""`evenmelt report`: one lot as a file that prints well."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def report(
    data: Annotated[Path, typer.Option("--data", help="Folder that holds journal.sqlite.")],
    lot: Annotated[str, typer.Option("--lot", help="Lot number; leave out for a log without lots.")] = "",
    line: Annotated[str, typer.Option("--line", help="Name of the line, where the journal has several.")] = "",
    out: Annotated[Path | None, typer.Option("--out", help="File to write; else one in the folder.")] = None,
) -> None:
    """Write one lot as an HTML file that needs nothing beside itself: findings, windows, charts, product, account."""
    import time

    from dashboards.command_line.journal_place import open_journal
    from dashboards.command_line.told import Told
    from dashboards.data import JournalData
    from dashboards.report.lot_report import lot_report
    from monitor.findings_table import write_whole

    with open_journal(data) as journal:
        door = JournalData(journal)
        names = [name for name in door.line_names() if line in ("", name)]
        if not names:
            raise Told(f"No line '{line}' in {data}; it holds {', '.join(door.line_names()) or 'none'}.")
        found = [(name, one) for name in names for one in door.lots(name) if one.number == lot]
        if not found:
            known = ", ".join(one.number or "one without a number" for name in names for one in door.lots(name))
            raise Told(f"No lot '{lot}' in {data}; there are: {known or 'none'}.")
        if len({name for name, _ in found}) > 1:
            raise Told(f"Lot '{lot}' ran on {', '.join(name for name, _ in found)}; say which with --line.")
        target = out or data / f"report{'-' + lot if lot else ''}.html".replace("/", "-")
        write_whole(target, lot_report(door, found[-1][1], time.time_ns()))
    print(f"Written to {target}")
