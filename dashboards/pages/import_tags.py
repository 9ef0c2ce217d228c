"""The tags of a log on the import page: the list, what needs a person first, and the chosen one with its preview."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.choice import Choice
from dashboards.drawing import Drawing
from dashboards.figures.tag_course import tag_course
from dashboards.parts import field, shape_of, table
from dashboards.tag_choice import GROUPS, how_sure, options_of, role_words, value_of
from dashboards.texts import say
from dashboards.urls import import_url
from dashboards.workshop.chosen import Corrected
from dashboards.workshop.job import Job
from dashboards.workshop.proposal_json import from_json
from ingest.propose import TagProposal
from ingest.roles import ROLES, Role

MOST_LEFT_OUT = 60
POSITIONS = ("", "barrel", "vent", "before_screen", "after_screen", "pump_suction", "pump_discharge")


def groups_of(found: Corrected, part: int) -> dict[str, list[TagProposal]]:
    """Tags by how sure; those left out by hand last."""
    by_hand = found.chosen[part]
    groups: dict[str, list[TagProposal]] = {group: [] for group in (*GROUPS, "out")}
    for one in found.proposal.lines[part].tags:
        groups[how_sure(one, one.tag in by_hand)].append(one)
    return groups


def chosen_tag(job: Job, found: Corrected, part: int, wanted: str) -> TagProposal:
    """The tag of the address, else the one that needed a person most before anything was chosen."""
    tags = found.proposal.lines[part].tags
    asked = min(from_json(job.read("proposal.json")).lines[part].tags, key=lambda one: GROUPS.index(one.sure))
    return next((one for one in tags if one.tag == wanted), next(one for one in tags if one.tag == asked.tag))


def lists(job: Job, found: Corrected, part: int, shown: TagProposal, wanted: str = "") -> tuple[list[Any], list[Any]]:
    """What needs looking at; and what is sure, chosen or left out, folded. wanted: the tag of the address."""
    groups = groups_of(found, part)
    open_, folded = [], []
    for group in GROUPS[:3]:
        if groups[group]:
            open_.append(html.H2(say(f"import.group.{group}", count=str(len(groups[group])))))
            entries = [_entry(job, one, part, group, one.tag == shown.tag) for one in groups[group]]
            open_.append(html.Div(entries, className="long-list"))
    for group in GROUPS[3:]:
        if groups[group]:
            title = say(f"import.group.{group}", count=str(len(groups[group])))
            entries = [_entry(job, one, part, group, one.tag == shown.tag) for one in groups[group]]
            opened = any(one.tag == wanted for one in groups[group]) or not (open_ or folded)
            inside = html.Div(entries, className="long-list")
            folded.append(html.Details([html.Summary(title), inside], open=opened, className="as-usual"))
    folded += _left_out(job, found, part, groups["out"], shown)
    return open_, folded


def _left_out(job: Job, found: Corrected, part: int, out: list[TagProposal], shown: TagProposal) -> list[Any]:
    others = found.proposal.left_out
    if not out and not others:
        return []
    items: list[Any] = [_entry(job, one, part, "out", one.tag == shown.tag) for one in out]
    items += [html.P(f"{one.tag}: {one.why}", className="soft") for one in others[:MOST_LEFT_OUT]]
    title = say("import.left_out", count=str(len(out) + len(others)))
    return [html.Details([html.Summary(title), *items], open=shown in out, className="as-usual")]


def _entry(job: Job, one: TagProposal, part: int, group: str, on: bool) -> dcc.Link:
    words = role_words(one.role, one.subject) if one.told else say("import.no_role")
    unit = f", {one.unit}" if one.unit else ""
    shape = shape_of("other") if group in ("cannot tell", "a guess") else []
    return dcc.Link(
        [
            html.Span([*shape, html.Strong(one.tag)]),
            html.Span(words + unit, className="told" if one.told else "soft"),
        ],
        href=import_url(job.key, part=str(part) if part else "", tag=one.tag),
        className="entry tag on" if on else "entry tag",
    )


def detail(job: Job, found: Corrected, part: int, one: TagProposal, width: int) -> list[Any]:
    """What the chosen tag may be, why, and its course."""
    proposed = next(p for p in from_json(job.read("proposal.json")).lines[part].tags if p.tag == one.tag)
    sure = say(f"import.sure.{how_sure(one, one.tag in found.chosen[part])}")
    options: Any = [
        {"label": _option(option.title, option.why), "value": option.value} for option in options_of(proposed, one)
    ]
    named: Any = {"aria-label": say("import.what_is") + " " + one.tag}
    # The columns of the page: two of them from 1100 pixels on.
    room = width if width < 1044 else (width - 36) * 8 // 13
    return [
        dcc.Store(id=ids.IMPORT_OF, data={"part": part, "tag": one.tag}),
        html.H2([one.tag, html.Span(f"  {sure}", className="soft")]),
        html.H3(say("import.what_is")),
        html.Div(
            dcc.RadioItems(id=ids.IMPORT_ROLE, options=options, value=value_of(one), className="choices"),
            role="radiogroup",
            **named,
        ),
        _fields(one),
        html.P(say("import.unit_why", sure=one.unit_sure, why=one.unit_why), className="soft")
        if one.unit and one.unit_why and one.tag not in found.chosen[part]
        else None,
        *_preview(job, found, part, one, room),
    ]


def _option(title: str, why: str) -> Any:
    return html.Span([html.Span(title, className="told"), html.Span(why, className="soft")], className="option")


def _fields(one: TagProposal) -> html.Div:
    """Any other role, where it belongs, and the unit; what the role does not need is hidden."""
    roles: Any = [
        {"label": f"{say('role.' + name, name)} {_belongs(role)}", "value": name} for name, role in ROLES.items()
    ]
    roles.sort(key=lambda role: role["label"].casefold())
    other = Choice(ids.IMPORT_OTHER, options=roles, value=one.role, hint=say("import.other_hint"))
    positions: Any = [{"label": say(f"import.position.{name}"), "value": name or "-"} for name in POSITIONS]
    place = Choice(ids.IMPORT_POSITION, options=positions, value=one.position or "-")
    needs_at = one.told and ROLES[one.role].per != "line"
    unit = ROLES[one.role].unit if one.told else ""
    hint = say("import.unit_hint", unit=unit) if unit and unit != "1" else ""
    return html.Div(
        [
            html.Label([say("import.other"), other], className="wide-field", htmlFor=ids.IMPORT_OTHER),
            field(
                say("import.at"), ids.IMPORT_AT, "" if needs_at else "gone", value=one.subject, debounce=True,
                disabled=not needs_at, about=one.tag,
            ),
            field(
                say("import.unit"), ids.IMPORT_UNIT, "" if one.told else "gone", value=one.unit, debounce=True,
                placeholder=hint, disabled=not one.told, about=one.tag,
            ),
            html.Label(
                [say("import.position"), place], className="" if one.role == "melt_pressure" else "gone",
                htmlFor=ids.IMPORT_POSITION,
            ),
        ],
        className="act fields",
    )  # fmt: skip


def _belongs(role: Role) -> str:
    return say(f"import.per.{role.per}")


def _preview(job: Job, found: Corrected, part: int, one: TagProposal, width: int) -> list[Any]:
    seen = job.read("preview.json")
    parts = seen.get("parts") or [{}]
    course = parts[min(part, len(parts) - 1)].get("tags", {}).get(one.tag, {"t": [], "y": []})
    drawn = Drawing(svg=tag_course(one.tag, one.unit, course["t"], course["y"], max(320, min(width, 900))))
    return [
        html.Div(drawn, className="wide"),
        html.P(say("import.clock"), className="soft"),
        html.H3(say("import.first_rows")),
        first_rows(seen.get("columns", {}), found, one),
    ]


def first_rows(columns: dict[str, Sequence[str]], found: Corrected, one: TagProposal) -> html.Div:
    """The first rows as they stand in the file: the time, and the column of the tag; all columns of a long log."""
    log = found.proposal.log
    names = [name for name in log.time_columns if name in columns]
    names += [one.tag] if one.tag in columns else [name for name in columns if name not in names]
    rows = [list(row) for row in zip(*(columns[name] for name in names), strict=False)]
    return table(names, [list(row) for row in rows], class_name="first-rows", stack=False)
