"""The import page at its end: keep the line file, check the log, and the way to its lots."""

from __future__ import annotations

import time
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.choice import Choice
from dashboards.data import FINISHED, JournalData
from dashboards.pages.import_begin import Refused, start
from dashboards.parts import field, row, shape_of
from dashboards.texts import say
from dashboards.urls import lot_url
from dashboards.workshop.chosen import Corrected, text_of
from dashboards.workshop.file_change import changes
from dashboards.workshop.job import Job
from dashboards.workshop.kept_files import KeptFiles, NotSaved, file_name, version_of
from dashboards.workshop.places import Places
from dashboards.workshop.settings_text import Judged, judged
from dashboards.workshop.whole_file import write_whole

MOST_CHANGES = 12
MOST_LOTS = 12


def file_wanted(job: Job, found: Corrected, part: int) -> str:
    """The name of the line file: chosen, else after the line."""
    given = job.read("choices.json").get(str(part), {}).get("file", "").strip()
    if not given:
        return file_name(found.proposal.lines[part].name)
    return given if given.endswith(".toml") else f"{given}.toml"


def keeping(places: Places, job: Job, found: Corrected, part: int) -> list[Any]:
    """The line file: whether it holds, and where it is kept."""
    text = text_of(found, part)
    return [row(say("import.keep"), *_keep(places, job, found, part, text, judged(text)))]


def ending(data: JournalData, places: Places, job: Job, found: Corrected, *, again: bool) -> list[Any]:
    """The check. again: what the journal has came from this very log."""
    return [row(say("import.check"), *_check(data, places, job, found, again))]


def _keep(places: Places, job: Job, found: Corrected, part: int, text: str, told: Judged) -> list[Any]:
    said: list[Any] = mistakes(told)
    take = html.A(say("import.take"), href=f"/import-file/{job.key}/{part}.toml", className="take")
    if places.lines is None:
        gone = html.Div(
            [
                field("", ids.IMPORT_FILE, value=""),
                html.Button("", id=ids.IMPORT_SAVE),
                dcc.Store(id=ids.IMPORT_WAS, data=""),
            ],
            className="gone",
        )
        return [*said, html.P(say("import.no_folder"), className="soft"), take, gone]
    name = file_wanted(job, found, part)
    before = KeptFiles(places.lines).text(name)
    words = say("import.save_new" if before is None else "import.save_version", name=name)
    notes: list[Any] = []
    if before == text:
        notes = [html.P(say("import.same", name=name), className="soft")]
    elif before is not None:
        listed = changes(before, text)
        more = [say("change.more", count=str(len(listed) - MOST_CHANGES))] if len(listed) > MOST_CHANGES else []
        items = [html.Li(one) for one in (*listed[:MOST_CHANGES], *more)]
        notes = [html.P(say("import.there", name=name)), html.Ul(items)]
    form = html.Div(
        [
            field(say("import.file"), ids.IMPORT_FILE, value=name, debounce=True),
            html.Button(words, id=ids.IMPORT_SAVE, n_clicks=0, disabled=bool(told.problems) or before == text),
            take,
            dcc.Store(id=ids.IMPORT_WAS, data="" if before is None else version_of(before)),
        ],
        className="act",
    )
    return [*said, *notes, form]


def mistakes(told: Judged) -> list[Any]:
    """That the file holds, or every mistake in it in the loader's own words."""
    if told.problems:
        return [
            html.P([*shape_of("other"), html.B(say("import.wrong"))]),
            html.Ul([html.Li(problem) for problem in told.problems], className="mistakes"),
        ]
    assert told.line is not None
    line = told.line
    counts = {"zones": len(line.zone), "feeders": len(line.feeder), "sensors": len(line.sensor)}
    return [html.P(say("import.fine", **{key: str(n) for key, n in counts.items()}))]


def save(places: Places, job: Job, found: Corrected, part: int, was: str) -> str:
    """Keeps the line file; gives what to say."""
    name, text = file_wanted(job, found, part), text_of(found, part)
    if places.lines is None or judged(text).problems:
        return say("import.wrong")
    try:
        version = KeptFiles(places.lines).save(name, text, was, time.time_ns())
    except NotSaved as error:
        return {
            "name": say("import.bad_name"),
            "there": say("import.changed", name=name),
            "changed": say("import.changed", name=name),
            "folder": say("file.not_writable", why=error.said.lower()),
        }[error.why]
    return say("import.saved", name=name, version=version)


def _check(data: JournalData, places: Places, job: Job, found: Corrected, again: bool) -> list[Any]:
    recipes = recipe_files(places)
    options: Any = [{"label": f"{name}  ({file})", "value": file} for file, name in recipes]
    group: Any = {"aria-label": say("import.recipes")}
    choices = job.read("choices.json")
    ticked, schedule = choices.get("recipes", []), choices.get("schedule", "")
    boxes = Choice(ids.IMPORT_RECIPES, "ticks", options=options, value=ticked)
    label = [html.Span(say("import.recipes"), className="soft"), html.Div(boxes, role="group", **group)]
    none = html.P(say("import.no_recipes"), className="soft") if not recipes else None
    refusal, words, notes = standing(data, found)
    if again and not refusal:
        words, notes = say("import.again"), []
    return [
        html.P(say("import.check_what"), className="soft"),
        html.Div(label, className="choice" if recipes else "gone"),
        none,
        html.Div(
            field(say("import.schedule"), ids.IMPORT_SCHEDULE, value=schedule, debounce=True),
            className="gone" if found.proposal.log.lot_column else "act",
        ),
        *(html.P([*shape_of("other"), note]) for note in notes),
        html.P([*shape_of("other"), refusal]) if refusal else None,
        html.Button(words, id=ids.IMPORT_CHECK, n_clicks=0, disabled=bool(refusal), className="strong"),
    ]  # fmt: skip


def recipe_files(places: Places) -> list[tuple[str, str]]:
    """(file, name) of every recipe in the folder that has no mistake."""
    if places.lines is None:
        return []
    kept, recipes = KeptFiles(places.lines), []
    for name in kept.names():
        told = judged(kept.text(name) or "")
        if told.recipe is not None:
            recipes.append((name, told.recipe.name))
    return recipes


def standing(data: JournalData, found: Corrected) -> tuple[str, str, list[str]]:
    """Why the log cannot be checked now ('' = it can), what the button says, and what would be replaced."""
    lines = [judged(text_of(found, part)) for part in useful_parts(found)]
    if not lines or any(one.problems for one in lines):
        return say("import.see_above"), say("import.check"), []
    names = [one.name for one in lines]
    if len(set(names)) < len(names):
        return say("import.same_names"), say("import.check"), []
    known, notes = data.line_names(), []
    for name in names:
        if name not in known:
            continue
        if data.source.source(name) not in ("", FINISHED):
            return say("import.live", line=name), say("import.check"), []
        first, end = data.source.span(name)
        if end > first:
            clock = data.clock(name)
            notes.append(say("import.replaces", line=name, first=clock.day_minute(first), last=clock.day_minute(end)))
    return "", say("import.replace" if notes else "import.check"), notes


def useful_parts(found: Corrected) -> list[int]:
    """Lines of the log of which something is told."""
    return [n for n, line in enumerate(found.proposal.lines) if any(one.told for one in line.tags)]


def check(data: JournalData, places: Places, job: Job, found: Corrected, recipes: list[str], schedule: str) -> None:
    """Puts the files together and starts the check. Raises Refused."""
    from pathlib import Path

    refusal, _, _ = standing(data, found)
    if refusal:
        raise Refused(refusal)
    folder = job.folder / "check"
    folder.mkdir(exist_ok=True)
    for old in folder.iterdir():
        old.unlink()
    for part in useful_parts(found):
        write_whole(folder / f"line-{part}.toml", text_of(found, part).encode())
    known = {name for name, _ in recipe_files(places)}
    for number, name in enumerate(name for name in recipes if name in known):
        assert places.lines is not None
        write_whole(folder / f"recipe-{number}.toml", (KeptFiles(places.lines).text(name) or "").encode())
    if schedule.strip():
        place = Path(schedule.strip().strip('"')).expanduser()
        if not place.is_file():
            raise Refused(say("import.schedule_none", place=str(place)))
        write_whole(folder / "schedule.csv", place.read_bytes())
    start(places.work, job, "check", str(places.data.resolve()))


def checked(data: JournalData, job: Job) -> list[Any]:
    """What came of the check, and the way to its lots."""
    told: list[Any] = []
    for one in job.read("result.json").get("lines", ()):
        name, findings = one["line"], one["findings"]
        if data.line(name) is None:
            continue
        lots = data.lots(name)
        words = say(
            "import.checked", line=name, lots=_counted("import.lots", len(lots)),
            findings=_counted("import.findings", findings),
        )  # fmt: skip
        links: list[Any] = [
            dcc.Link(
                say("import.to_lot", lot=lot.number) if lot.number else say("import.to_run"),
                href=lot_url(name, lot.number), className="strong",
            )
            for lot in lots[:MOST_LOTS]
        ]  # fmt: skip
        if len(lots) > MOST_LOTS:
            links.append(dcc.Link(say("import.more_lots"), href="/lots"))
        told.append(html.Div([html.P(html.B(words)), html.Div(links, className="channels")], className="checked"))
    return told


def _counted(key: str, count: int) -> str:
    if count == 0 and key == "import.findings":
        return say("import.findings.0")
    if key == "import.lots":
        return say("import.lots.1") if count == 1 else say("import.lots.n", count=str(count))
    return say("import.findings.1") if count == 1 else say("import.findings.n", count=str(count))
