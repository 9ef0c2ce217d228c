"""`evenmelt map`: propose a line file from a log alone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from rich.console import Console

    from ingest.propose import LineProposal, Proposal


SURENESS = ("sure", "likely", "a guess", "cannot tell")


def map_log(
    logs: Annotated[list[Path], typer.Argument(metavar="LOG...", help="CSV or Parquet files of one log.")],
    out: Annotated[
        Path, typer.Option("--out", help="Line file to be written; of several lines, NAME-1.toml and so on.")
    ] = Path("line.toml"),
    name: Annotated[str, typer.Option("--name", help="Name of the line.")] = "",
    time_format: Annotated[
        str, typer.Option("--time-format", help="How its time is written, such as '%d/%m/%y %H.%M', if not found.")
    ] = "",
) -> None:
    """Propose a line file from a log alone: which tag plays which role, how sure that is, and why.

    Read the file through and correct it, then check the log with it. Names, units, levels and the way tags move
    together are looked at; what they leave open is not guessed but said.
    A tag that cannot be told stands in the file too, commented out, with what is known of it.
    Ends with 0 when a line file is written, 2 when the log cannot be used.
    """
    from dashboards.command_line.page import page
    from dashboards.command_line.told import Told
    from ingest.propose import propose

    proposal = propose(logs, name=name, time_format=time_format)
    told = [line for line in proposal.lines if any(one.told for one in line.tags)]
    useful = told or [line for line in proposal.lines if any(one.seen for one in line.tags)]
    paper = page()
    for line in useful:
        _print_line(paper, line)
    _print_left_out(paper, proposal)
    if not useful:
        raise Told(f"{logs[0]}: holds no tag with readings, so there is nothing to write a line file of.")
    written = _write(proposal, useful, out)
    for note in dict.fromkeys((*(note for line in useful for note in line.notes), *proposal.notes)):
        paper.print(f"To look at: {note}", soft_wrap=True)
    if not told:
        paper.print(
            "Of no tag could a role be told, by its name or by how it moves. They stand in the file commented out, "
            "each with what is known of it: say the role of those you know.",
            soft_wrap=True,
        )
    paper.print(f"\nWritten: {', '.join(map(str, written))}. Read it through, then:", soft_wrap=True)
    lines = " ".join(f"--line {_quoted(path)}" for path in written)
    paper.print(f"evenmelt check {' '.join(map(_quoted, logs))} {lines}", soft_wrap=True)


def _quoted(path: Path) -> str:
    return f'"{path}"' if " " in str(path) else str(path)


def _write(proposal: Proposal, lines: list[LineProposal], out: Path) -> list[Path]:
    """Writes every line file and reads it back; never over a file that is there."""
    from dashboards.command_line.told import Told
    from ingest.propose import line_text
    from monitor.line import read_line

    places = [out] if len(lines) == 1 else [out.with_stem(f"{out.stem}-{n}") for n in range(1, len(lines) + 1)]
    there = [str(place) for place in places if place.exists()]
    if there:
        raise Told(f"{', '.join(there)} exists already and may hold your corrections. Give another place with --out.")
    for place, line in zip(places, lines, strict=True):
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(line_text(proposal, line), encoding="utf-8")
        if any(one.told for one in line.tags):  # a file without a sensor is only begun
            read_line(place)
    return places


def _print_line(paper: Console, line: LineProposal) -> None:
    from rich.table import Table

    told = sum(one.told for one in line.tags)
    counts = [f"{sum(one.sure == word for one in line.tags)} {word}" for word in SURENESS]
    parts = f"{len(line.zones)} zones, {len(line.feeders)} feeders, {len(line.vents)} vents"
    paper.print(f"{line.name}  {line.kind}{' (cannot tell)' if line.kind_why else ''}", style="bold")
    paper.print(f"{told} of {len(line.tags)} tags have a role: {', '.join(counts)}; {parts}\n", soft_wrap=True)
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("tag", "role", "at", "unit", "how sure", "why"):
        table.add_column(heading, overflow="fold")
    for one in line.tags:
        table.add_row(one.tag, one.role or "-", one.subject, one.unit, one.sure, one.why)
    paper.print(table)
    if line.kind_why:
        paper.print(
            f"\nKind of machine: {line.kind_why}; '{line.kind}' is written and must be checked.", soft_wrap=True
        )
    paper.print()


def _print_left_out(paper: Console, proposal: Proposal) -> None:
    reasons: dict[str, list[str]] = {}
    for one in proposal.left_out:
        reasons.setdefault(one.why, []).append(one.tag)
    for why, tags in reasons.items():
        shown = ", ".join(tags[:4]) + (f" and {len(tags) - 4} more" if len(tags) > 4 else "")
        paper.print(f"Left out, {why}: {shown}", soft_wrap=True)
    if reasons:
        paper.print()
