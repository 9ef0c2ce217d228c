"""`evenmelt learn`: learn from good runs what is normal on a line under a recipe."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def learn(
    logs: Annotated[list[Path], typer.Argument(metavar="LOG...", help="CSV or Parquet files of good runs.")],
    line: Annotated[Path, typer.Option("--line", help="Line file.")],
    recipe: Annotated[Path, typer.Option("--recipe", help="Recipe file.")],
    out: Annotated[Path, typer.Option("--out", help="The reference, a JSON file.")],
    schedule: Annotated[
        Path | None, typer.Option("--schedule", help="CSV with start, lot, recipe, where the log does not say.")
    ] = None,
) -> None:
    """Learn a reference from the steady minutes of good runs, each file a run of its own, in any order.

    Files that share a time are taken once where they hold the same readings, and refused where they differ.

    Ends with 0 when it was learned, 2 when the runs cannot serve: too little, or faulty.
    """
    from dashboards.command_line.holds_told import mapping_with_holds
    from dashboards.command_line.page import page
    from dashboards.command_line.settings_given import read_settings
    from dashboards.command_line.told import Told
    from ingest.account import ReadingAccount
    from ingest.read_log import read_blocks
    from monitor.reference.file import write_reference
    from monitor.reference.learn import ReferenceRefused
    from monitor.reference.runs import learn_from

    settings = read_settings([line], [recipe], schedule)
    same_name = len({log.name for log in logs}) < len(logs)
    names = [str(log) if same_name else log.name for log in logs]
    read = [mapping_with_holds([log], settings.lines[0]) for log in logs]
    runs = (
        (name, read_blocks([log], mapping, ReadingAccount()))
        for name, log, (mapping, _) in zip(names, logs, read, strict=True)
    )
    try:
        reference = learn_from(runs, settings.lines[0], settings.recipes[0], settings.schedules[0])
    except ReferenceRefused as error:
        raise Told(str(error)) from None
    write_reference(out, reference)
    paper = page()
    count = len(reference.normals)
    paper.print(f"Learned from {reference.hours:.1f} steady hours: {count} quantities.", highlight=False)
    if len(logs) == 1:
        paper.print("  from one run: how much one run differs from the next is not in it; add more", highlight=False)
    for name, (_, holds) in zip(names, read, strict=True):
        for said in holds:
            paper.print(f"  {name}: {said}", highlight=False)
    for name, reason in reference.not_learned.items():
        paper.print(f"  not learned: {name}: {reason}", highlight=False)
    paper.print(f"Written to {out}, version {reference.version}", highlight=False)
