"""Every page in every state it can be in, as addresses on two invented plants: for checks that go over all of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from dashboards.memory_data import MemoryData
from dashboards.urls import live_url, lot_url, upkeep_url
from dashboards.workshop.places import Places
from tests.dashboards.in_browser import QUESTIONS
from tests.dashboards.lines import single, twin
from tests.dashboards.plant import END, HOUR, SECOND
from tests.dashboards.test_alarm_states import MINUTE, Clock, harm, pressed

if TYPE_CHECKING:
    from playwright.sync_api import Page

SHORT = "feeder_rate:F4"


class Ticking(Clock):
    """This moment, which goes on as a plant's does.

    By half a millisecond whenever it is asked, and back after two seconds, so that no reading is ever too old.
    """

    asked = 0

    def __call__(self) -> int:
        self.asked = (self.asked + 1) % 4000
        return self.now + self.asked * SECOND // 2000


@dataclass(frozen=True)
class State:
    """path: address. heading: of the page. ready: a selector that is there once all of it is. empty: the plant with no
    line. press: opened one after the other before looking. silent: the server stops answering."""

    path: str
    heading: str
    ready: str
    empty: bool = False
    press: tuple[str, ...] = ()
    silent: bool = False


STATES = {
    "lines": State("/", "Lines", ".line-block"),
    "lines, units open": State("/", "Lines", ".line-block", press=(".units summary",)),
    "lines, cautions open": State("/", "Lines", ".line-block", press=("footer summary",)),
    "live, set aside and latched": State(
        live_url("Line 3", channel="zone_temperature:Z10"), "Line 3", ".aside-block", press=(".aside-block summary",)
    ),
    "live, out of service": State(
        live_url("Line 9", channel=SHORT), "Line 9", ".out-block", press=(".out-block summary",)
    ),
    "upkeep, out of service": State(upkeep_url(line="Line 9", item="feeder:F4"), "Upkeep", ".out-list"),
    "live, a finding": State(live_url("Line 7", channel=SHORT), "Line 7", "#live-form.can-aside"),
    "live, act now": State(live_url("Line 7"), "Line 7", ".finding.p1"),
    "live, all channels": State(live_url("Line 7"), "Line 7", ".finding", press=(".all-channels summary",)),
    "live, nothing found of the channel": State(live_url("Line 7", channel="torque"), "Line 7", "#live-form.none"),
    "live, data stopped": State(live_url("Line 5"), "Line 5", ".no-data .verdict strong"),
    "live, no answer": State(live_url("Line 7"), "Line 7", ".finding", silent=True),
    "live, unknown line": State(live_url("Line 99"), "No line Line 99", "main ul"),
    "lots": State("/lots", "Lots", "tbody tr"),
    "lots, none found": State("/lots?find=zzz", "Lots", "#lots-body"),
    "lot": State(lot_url("Line 3", "4417"), "Lot 4417", ".finding"),
    "lot, raw lots to write down": State(
        lot_url("Line 3", "4417"), "Lot 4417", ".finding", press=("details.fold summary",)
    ),
    "lot, a stretch": State(
        lot_url("Line 3", "4417", from_="2026-03-03T05:50:00Z", to="2026-03-03T06:20:00Z"),
        "Lot 4417",
        "#lot-stretch p a:not(.share)",
    ),
    "lot, beside another": State(lot_url("Line 3", "4417", beside="4416"), "Lot 4417", "#lot-sheet svg"),
    "lot, whole log": State(lot_url("Line 5", ""), "The whole log of Line 5", "#lot-sheet svg"),
    "lot, unknown": State(lot_url("Line 3", "9999"), "", "h1"),
    "upkeep": State("/upkeep", "Upkeep", ".entry.on"),
    "upkeep, a zone": State(upkeep_url(line="Line 3", item="zone:Z9"), "Upkeep", ".entry.on"),
    "nothing at this address": State("/nowhere", "Nothing at this address", "main a"),
    "import": State("/import", "Import a log", "main button"),
    "files": State("/files", "Line and recipe files", "main a"),
    "a line file": State("/files/line.toml", "line.toml", "textarea"),
    "a recipe file": State("/files/recipe.toml", "recipe.toml", "textarea"),
    "a new recipe": State("/files/new/recipe", "Write a recipe", "textarea"),
    "a line as judged": State("/files/judged/Line%203", "Line 3", "main"),
    "no line yet": State("/", "No line yet", ".way", empty=True),
    "no file yet": State("/files", "Line and recipe files", "main", empty=True),
    "no lot yet": State("/lots", "Lots", "#lots-body", empty=True),
    "no upkeep yet": State("/upkeep", "Upkeep", "#upkeep-body", empty=True),
}


def full_plant(clock: Clock | None = None) -> MemoryData:
    """Line 3 with something set aside and something latched; Line 5 stopped; Line 7 in trouble; Line 9 being mended."""
    held, clock = twin(), clock or Clock()
    line, ninth = (
        held.line.model_copy(update={"line": held.line.line.model_copy(update={"name": name})})
        for name in ("Line 7", "Line 9")
    )
    trouble = replace(pressed(held), line=line, findings=[*held.findings, harm()])
    mended = END - 5 * MINUTE
    calm = replace(pressed(held, mended), findings=[*held.findings, harm("closed", mended)])
    data = MemoryData([calm, single(), trouble, replace(held, line=ninth)], clock=clock)
    short = next(f for f in held.findings if f.last.channel == SHORT).last.finding
    data.act("Line 3", short, "shelved", "Ana", "hopper is being cleaned", clock.now + HOUR)
    data.act("Line 9", short, "out of service", "Ana", "load cell is being changed")
    return data


def folders(at: Path, *, empty: bool) -> Places:
    """Folders below `at` that the pages may write to, with a line and a recipe file in them unless `empty`."""
    places = Places(at / "data", at / "lines")
    for folder in (at / "data", at / "lines"):
        folder.mkdir()
    for name in () if empty else ("line.toml", "recipe.toml"):
        text = files("sample_logs").joinpath(f"logs/twin_clean/{name}").read_text(encoding="utf-8")
        (at / "lines" / name).write_text(text, encoding="utf-8")
    return places


def empty_plant() -> MemoryData:
    """A journal with no line in it."""
    return MemoryData([], clock=Clock())


def bring_about(page: Page, state: State) -> None:
    """Waits until the opened page is in its state."""
    page.wait_for_selector(state.ready, state="attached")
    if state.silent:
        page.route(QUESTIONS, lambda route: route.abort())
        page.wait_for_function("document.documentElement.classList.contains('unanswered')", timeout=20_000)
    for selector in state.press:
        page.click(selector)
    page.wait_for_function(  # of the charts that are seen, one at least is there, not words in its place
        "() => { const seen = [...document.querySelectorAll('.dash-graph')].filter(g => g.offsetParent);"
        "return seen.every(g => g.querySelector('.main-svg')) && (!seen.length ||"
        "seen.some(g => (g.querySelector('.js-plotly-plot')?.data ?? []).length)); }"
    )
    page.wait_for_timeout(300)
