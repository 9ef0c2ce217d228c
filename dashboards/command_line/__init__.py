"""The command line `evenmelt`: one verb a file. Nothing heavy is imported before a verb needs it."""

from __future__ import annotations

import sys

import typer

from dashboards.command_line import check, conditions, coverage, demo, import_log, learn, map_log, report, serve, watch

app = typer.Typer(
    name="evenmelt",
    help="Watches polymer-compounding extrusion lines from their logs.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("check")(check.check)
app.command("demo")(demo.demo)
app.command("import")(import_log.import_log)
app.command("learn")(learn.learn)
app.command("map")(map_log.map_log)
app.command("report")(report.report)
app.command("serve")(serve.serve)
app.command("watch")(watch.watch)
app.command("conditions")(conditions.conditions)
app.command("coverage")(coverage.coverage)


def main() -> None:
    """Entry point: runs one verb and ends the process with its exit code."""
    from dashboards.command_line.endings import ended_well
    from dashboards.command_line.own_packages import mixed_up

    problem = mixed_up()
    if problem:
        print(problem, file=sys.stderr)
        raise SystemExit(2)
    raise SystemExit(ended_well(app))
