"""The import page below the tags: the line's own facts, and the questions of the log."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.log_questions import Question, questions
from dashboards.parts import field, row, shape_of
from dashboards.texts import say
from dashboards.urls import import_url
from dashboards.workshop.chosen import Corrected, other_order
from dashboards.workshop.job import Job
from dashboards.workshop.proposal_json import from_json

KINDS = ("twin-screw", "single-screw")
MOST_QUESTIONS = 40


def facts(job: Job, found: Corrected, part: int) -> list[Any]:
    """Name, kind, time zone, order of day and month; then what the log leaves open."""
    line = found.proposal.lines[part]
    kinds: Any = [{"label": say(f"import.kind.{kind}"), "value": kind} for kind in KINDS]
    told: Any = {"aria-label": say("import.kind")}
    kind = dcc.RadioItems(
        id=ids.IMPORT_KIND, options=kinds, value=None if line.kind_why else line.kind, inline=True,
        className="units-choice",
    )  # fmt: skip
    sure = None
    if line.kind_why:
        sure = html.P([*shape_of("other"), line.kind_why], className="soft")
    form = html.Div(
        [
            field(say("import.name"), ids.IMPORT_NAME, value=line.name, debounce=True),
            html.Div(
                [html.Span(say("import.kind"), className="soft"), html.Div(kind, role="radiogroup", **told)],
                className="choice",
            ),
            field(
                say("import.zone"), ids.IMPORT_ZONE, value=found.time_zones[part], debounce=True,
                placeholder=say("import.zone_hint"),
            ),
            _order(job, found),
        ],
        className="act",
    )  # fmt: skip
    return [
        row(say("import.facts"), form, sure, _zones(line.zones)),
        row(say("import.questions"), *_questions(job, found, part)),
    ]


def _zones(zones: tuple[str, ...]) -> html.Div | None:
    """The zones from throat to die, each with a way nearer to either end."""
    if len(zones) < 2:
        return None
    items = []
    for place, zone in enumerate(zones):
        moves = []
        for way, sign in (("-1", "▲"), ("1", "▼")):
            ends = place == (0 if way == "-1" else len(zones) - 1)
            name = say("import.to_throat" if way == "-1" else "import.to_die", zone=zone)
            given: Any = {"aria-label": name}
            id_ = {"type": ids.IMPORT_MOVE, "zone": zone, "way": way}
            moves.append(
                html.Button(sign, id=id_, n_clicks=0, disabled=ends, title=name, className="plain tool", **given)
            )
        items.append(html.Li([html.Span(zone, className="zone"), html.Span(moves)]))
    heading = html.P(say("import.zones_order"), className="soft")
    return html.Div([heading, html.Ol(items, className="zone-order")])


def _order(job: Job, found: Corrected) -> html.Div:
    """Which of two numbers is the day, where the log does not say; else hidden."""
    guess = from_json(job.read("proposal.json")).log.time_format
    now = found.proposal.log.time_format
    day_first = guess if guess.find("%d") < guess.find("%m") else other_order(guess)
    options: Any = [
        {"label": say("import.order.day"), "value": day_first or "day"},
        {"label": say("import.order.month"), "value": other_order(day_first) or "month"},
    ]
    choice = dcc.RadioItems(
        id=ids.IMPORT_ORDER, options=options, value=now or "day", inline=True, className="units-choice"
    )
    stamp = _first_stamp(job, found)
    told: Any = {"aria-label": say("import.order", stamp=stamp)}
    words = html.Span([*shape_of("other"), say("import.order", stamp=stamp)], className="soft")
    return html.Div([words, html.Div(choice, role="radiogroup", **told)], className="choice" if guess else "gone")


def _first_stamp(job: Job, found: Corrected) -> str:
    columns = job.read("preview.json").get("columns", {})
    names = found.proposal.log.time_columns
    return " ".join(columns[name][0] for name in names if columns.get(name)) or "03/04/2026"


def _questions(job: Job, found: Corrected, part: int) -> list[Any]:
    accounts = job.read("account.json")
    line = found.proposal.lines[part]
    notes = (*line.notes, *found.proposal.notes)
    if found.order_chosen:
        notes = tuple(note for note in notes if not note.startswith("time_format"))
    if line.name != from_json(job.read("proposal.json")).lines[part].name:
        notes = tuple(note for note in notes if note != "give the line its own name")
    if found.time_zones[part] != "UTC":
        notes = tuple(note for note in notes if "time_zone" not in note)
    asked = questions(accounts.get(str(part), {}), notes, [one.tag for one in line.tags])
    items = [_question(job, part, one) for one in asked[:MOST_QUESTIONS]]
    skipped = _done(job) and not (job.folder / "account.json").exists()
    later = [html.P(say("import.account_later"), className="soft")] if skipped else []
    if not items:
        return later or [html.P(say("import.no_questions"), className="quiet")]
    return [html.Ul(items, className="questions"), *later]


def _done(job: Job) -> bool:
    return job.status().state != "working"


def _question(job: Job, part: int, one: Question) -> html.Li:
    told: list[Any] = [html.B(say(f"import.ask.{one.kind}") + ": "), one.text]
    if one.sure:
        told.append(html.Span(f" ({one.sure})", className="soft"))
    if one.tag:
        href = import_url(job.key, part=str(part) if part else "", tag=one.tag)
        told.append(dcc.Link(say("import.look"), href=href))
    return html.Li(told)
