"""The import, line, recipe and first-run pages, without a browser."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from dash.development.base_component import Component

from dashboards import ids
from dashboards.app import create_app, page_of
from dashboards.clock import PlantClock
from dashboards.memory_data import MemoryData
from dashboards.pages import file_page, import_begin, import_end, import_log
from dashboards.pages.file_versions import messages, versions
from dashboards.pages.import_end import standing
from dashboards.urls import file_url, import_url, judged_line_url
from dashboards.workshop.chosen import choose_line, corrected
from dashboards.workshop.job import Job, Status, job_of_paths
from dashboards.workshop.job_step import run
from dashboards.workshop.kept_files import KeptFiles
from dashboards.workshop.places import Places
from dashboards.workshop.settings_text import judged
from dashboards.workshop.start_step import start_step
from sample_logs import sample_path

KNOWN = {value for name, value in vars(ids).items() if name.isupper()}
LINE = (sample_path("twin_clean") / "line.toml").read_text(encoding="utf-8")
RECIPE = (sample_path("twin_clean") / "recipe.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> Places:
    folder = tmp_path_factory.mktemp("places")
    kept = KeptFiles(folder / "lines")
    kept.save("twin.toml", LINE, "", 10**18)
    kept.save("recipe.toml", RECIPE, "", 10**18)
    kept.save("broken.toml", "[line]\nname = 1\n", "", 10**18)
    return Places(folder / "data", folder / "lines")


@pytest.fixture(scope="module")
def job(places: Places) -> Job:
    made = job_of_paths(places.work, [sample_path("twin_path_blocked") / "log.csv"])
    run(made.folder, "propose", [])
    assert made.status().state == "done"
    return made


def addresses(job: Job) -> list[str]:
    return [
        "/import", import_url(job.key), import_url("0" * 16), "/files", "/files/new/recipe", file_url("twin.toml"),
        file_url("recipe.toml"), file_url("broken.toml"), file_url("none.toml"), judged_line_url("Line 3"),
        judged_line_url("no such"),
    ]  # fmt: skip


def components(node: Any) -> Iterator[Component]:
    if isinstance(node, Component):
        yield node
        yield from components(getattr(node, "children", None))
    elif isinstance(node, (list, tuple)):
        for child in node:
            yield from components(child)


def named(*roots: Any) -> list[Any]:
    return [str(c.id) for root in roots for c in components(root) if getattr(c, "id", None)]


def text(node: Any) -> str:
    return json.dumps(node, default=lambda c: c.to_plotly_json(), ensure_ascii=False)


def test_every_address_answers_with_known_ids_and_small_layouts(data: MemoryData, places: Places, job: Job) -> None:
    app = create_app(data, places=places)
    for address in addresses(job):
        assert app.server.test_client().get(address).status_code == 200
        layout, title = page_of(data, address, "", 1.0, places)
        found = named(app.layout, layout)
        assert len(found) == len(set(found)) and set(found) <= KNOWN, address
        assert len(text(layout)) < 100_000 and "Evenmelt" in title


def test_what_is_shown_of_a_log_is_bounded_and_its_ids_are_unique(data: MemoryData, places: Places, job: Job) -> None:
    layout, _ = page_of(data, import_url(job.key), "", 1.0, places)
    for state in ({}, {"tag": "TORQUE"}, {"tag": "no such"}, {"part": "9"}, {"part": "x"}):
        reply = import_log.answer(data, places, job, state, 1384)
        found = named(layout, *reply)
        moves = {one for one in found if one.startswith("{") and f"'type': '{ids.IMPORT_MOVE}'" in one}
        assert len(found) == len(set(found)) and set(found) - moves <= KNOWN
        assert len(text(reply)) < 200_000


def test_every_control_of_a_log_has_a_label(data: MemoryData, places: Places, job: Job) -> None:
    reply = import_log.answer(data, places, job, {}, 1384)
    controls = [c for c in components(list(reply)) if type(c).__name__ in ("Input", "Choice")]
    labels = [c for c in components(list(reply)) if type(c).__name__ == "Label"]
    inside = {str(c.id) for label in labels for c in components(label.children) if getattr(c, "id", None)}
    assert {str(c.id) for c in controls} - inside <= {ids.IMPORT_RECIPES}  # a group, with its own name


def test_a_line_watched_live_is_never_written_over(data: MemoryData, places: Places, job: Job) -> None:
    choose_line(job, 0, "name", "Line 3")
    try:
        refusal, _, _ = standing(data, corrected(job))
        assert "Line 3 is watched live" in refusal
    finally:
        (job.folder / "choices.json").unlink()
    assert standing(data, corrected(job))[0] == ""


def test_the_line_file_can_be_taken_along(data: MemoryData, places: Places, job: Job) -> None:
    client = create_app(data, places=places).server.test_client()

    reply = client.get(f"/import-file/{job.key}/0.toml")

    assert judged(reply.get_data(as_text=True)).problems == ()
    assert "attachment" in reply.headers["Content-Disposition"]
    for wrong in (f"/import-file/{job.key}/1.toml", "/import-file/0/0.toml"):
        assert client.get(wrong).status_code == 404


def test_failed_work_says_why_and_what_to_do(job: Job) -> None:
    for said, wanted in (
        ("log.csv: is not text. Export it.", "is not text"), ("stopped", "It was stopped"), ("gone", "without a word"),
        ("own mistake KeyError('x')", "a mistake in Evenmelt, not in your log: KeyError"),
    ):  # fmt: skip
        assert wanted in text(import_log.progress(job, Status("propose", "failed", said=said)))
    assert "42 %" in text(import_log.progress(job, Status("check", "working", 42, 100)))


def words(node: Any) -> str:
    """All text of a part, as it is read from top to bottom."""
    if isinstance(node, Component):
        return words(getattr(node, "children", None))
    parts = [words(one) for one in node] if isinstance(node, (list, tuple)) else [str(node or "")]
    return " ".join(" ".join(parts).split())


def test_every_step_of_an_import_says_what_to_do_next(data: MemoryData, places: Places, job: Job) -> None:
    """From the empty page to the lots; a step that fails says how to go on."""
    empty = words(import_begin.layout(Places(places.data / "none", places.lines)))
    assert "Drop the log here" in empty and "Then you correct it, keep it as a line file, and judge the log" in empty

    fresh = Job(places.work / ("1" * 16))
    looking = words(import_log.progress(fresh, Status("propose", "working")))
    assert looking.startswith("Looking at the log") and "What comes next appears here by itself." in looking

    head, _, _, _, _, keep, check, came = import_log.answer(data, places, job, {}, 1384)
    assert words(head).endswith("Next: keep the line file and check the log, both below. A tag can still be corrected.")
    assert "no mistake in it" in words(keep) and "Save it as" in words(keep)
    assert "Judges the whole log" in words(check) and "Check this log" in words(check) and came == []

    judging = words(import_log.progress(job, Status("check", "working", 42, 100)))
    assert "Reading and judging: 42 %." in judging and "What comes next appears here by itself." in judging
    for step, how in (("propose", "and bring it again."), ("check", "check the log again with the button above.")):
        for said in ("stopped", "log.csv: is not text."):
            assert words(import_log.progress(job, Status(step, "failed", said=said))).endswith(how)

    (job.folder / "result.json").write_text('{"lines": [{"line": "Line 3", "findings": 2}]}', encoding="utf-8")
    try:
        done = words(import_end.checked(data, job))
    finally:
        (job.folder / "result.json").unlink()
    assert done == "Line 3: 2 lots judged, 2 findings. To lot 4416 To lot 4417"


def test_tags_that_are_not_sure_are_to_be_looked_through_first(data: MemoryData, places: Places) -> None:
    log = places.data / "unsure.csv"
    rows = "".join(f"2026-03-02T06:{i // 60:02}:{i % 60:02}Z,{200 + i % 3},{i % 7}\n" for i in range(900))
    log.write_text("time,Z1 temp,X17\n" + rows, encoding="utf-8")
    made = job_of_paths(places.work, [log])
    run(made.folder, "propose", [])
    head = words(import_log.answer(data, places, made, {}, 1384)[0])
    assert head.endswith("correct what is wrong; then keep the line file and check the log, both below.")


def test_a_mistake_in_the_line_file_says_what_it_stands_in_the_way_of(
    data: MemoryData, places: Places, job: Job
) -> None:
    choose_line(job, 0, "time_zone", "Europe/Madird")
    try:
        reply = import_log.answer(data, places, job, {}, 1384)
    finally:
        (job.folder / "choices.json").unlink()
    assert "Not to be used yet:" in words(reply[5]) and "did you mean 'Europe/Madrid'?" in words(reply[5])
    assert "First the line file must hold; what is wrong with it stands above." in words(reply[6])


def test_without_folders_the_pages_say_so(data: MemoryData, empty_data: MemoryData) -> None:
    assert "evenmelt serve --data" in text(page_of(data, "/import", "", 1.0)[0])
    assert "--lines" in text(page_of(data, "/files", "", 1.0)[0])
    assert "evenmelt demo" in text(page_of(empty_data, "/", "", 1.0)[0])


def test_the_first_page_leads_on_in_one_click_each(empty_data: MemoryData, data: MemoryData, places: Places) -> None:
    layout, _ = page_of(empty_data, "/", "", 1.0, places)

    assert ids.BEGIN_DEMO in named(layout) and '"/import"' in text(layout)
    assert ids.BEGIN_DEMO not in named(page_of(data, "/", "", 1.0, places)[0])


def test_a_browser_is_numbered_once(data: MemoryData, places: Places) -> None:
    client = create_app(data, places=places).server.test_client()

    first = client.get("/").headers.getlist("Set-Cookie")
    again = client.get("/").headers.getlist("Set-Cookie")

    assert sum("evenmelt-session=" in one for one in first) == 1
    assert not any("evenmelt-session=" in one for one in again)


def test_a_file_is_shown_with_its_mistakes_or_what_would_change(places: Places) -> None:
    said, refused = messages(LINE, LINE.replace('kind = "twin-screw"', 'kind = "triple"'))
    assert refused and "allowed are 'twin-screw' or 'single-screw'" in text(said)
    said, refused = messages(LINE, LINE.replace("Europe/Madrid", "Europe/Paris"))
    assert not refused and "time_zone is 'Europe/Paris', was 'Europe/Madrid'" in text(said)
    assert messages(LINE, LINE)[1]


def test_versions_say_what_changed_and_an_earlier_one_can_be_brought_back(tmp_path: Path) -> None:
    kept = KeptFiles(tmp_path)
    first = kept.save("a.toml", LINE, "", 10**18)
    second = kept.save("a.toml", LINE.replace("Europe/Madrid", "Europe/Paris"), first, 10**18 + 10**9)

    assert "was 'Europe/Madrid'" in text(versions(kept, "a.toml", {}, PlantClock("UTC")))
    now, shown, old = file_page.shown_text(kept, "a.toml", {"version": first})
    assert now is not None and shown == old == LINE
    assert "Bring this version back" in text(file_page.body(kept, "a.toml", {"version": first}))
    said, saved = file_page.keep(kept, "a.toml", LINE, second)
    assert saved and first in said and kept.text("a.toml") == LINE


def test_what_cannot_be_saved_is_told(places: Places, tmp_path: Path) -> None:
    kept = KeptFiles(tmp_path)
    kept.save("a.toml", LINE, "", 10**18)
    again = LINE.replace("Europe/Madrid", "Europe/Paris")

    assert file_page.keep(kept, "a.toml", again, "0" * 12) == (
        "Somebody saved another version meanwhile. Copy your text, open the page anew, and change that one.", False,
    )  # fmt: skip
    assert "there already" in file_page.keep(kept, "a.toml", again, "")[0]
    assert "letters, digits" in file_page.keep(kept, "../b.toml", again, "")[0]
    assert not file_page.keep(kept, "b.toml", "[line]\n", "")[1] and kept.text("b.toml") is None


def test_drawn_pages_of_files_are_bounded(places: Places) -> None:
    assert places.lines is not None
    kept = KeptFiles(places.lines)
    for name in ("twin.toml", "recipe.toml", "broken.toml"):
        reply = [file_page.drawn(kept, judged(kept.text(name) or ""), 1384), file_page.body(kept, name, {})]
        assert len(text(reply)) < 200_000
    assert file_page.drawn(kept, judged(kept.text("broken.toml") or ""), 1384) == []


def test_nothing_is_kept_in_the_process(data: MemoryData, places: Places, job: Job) -> None:
    """Two apps, as two worker processes have them, show the same of one job, and what one is told the other knows."""
    one, other = (create_app(data, places=places).server.test_client() for _ in range(2))
    before = other.get(f"/import-file/{job.key}/0.toml").data
    choose_line(job, 0, "name", "told to one")
    try:
        told = [client.get(f"/import-file/{job.key}/0.toml").data for client in (one, other)]
    finally:
        (job.folder / "choices.json").unlink()
    assert told[0] == told[1] != before and b"told to one" in told[0]


def test_a_step_that_runs_is_not_started_twice(places: Places, job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    before = job.status()
    job.tell(Status("check", "working"))
    monkeypatch.setattr("dashboards.workshop.start_step.subprocess.Popen", lambda *_, **__: pytest.fail("started"))
    try:
        start_step(places.work, job, "check", "1" * 32)
    finally:
        job.tell(before)
