"""A lot's report: one file that needs nothing beside itself and says what the page says."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import numpy as np
import pytest
from dash import dcc, html

from dashboards.app import create_app
from dashboards.cells import means
from dashboards.clock import SECOND
from dashboards.files_of import report_url
from dashboards.lot_notes import write_note
from dashboards.memory_data import MemoryData
from dashboards.pages.lot_beside import different_rows
from dashboards.report.as_html import as_html
from dashboards.report.lot_report import lot_report
from dashboards.report.window_table import windows_kept
from dashboards.texts import say
from monitor.recipe import Window
from tests.dashboards.lines import twin
from tests.dashboards.plant import END

LINE = "Line 3"


@pytest.fixture(scope="module")
def text(data: MemoryData) -> str:
    return lot_report(data, data.lots(LINE)[-1], data.now_ns())


class Balance(HTMLParser):
    """Every element that is opened is closed, in order."""

    VOID = ("meta", "br", "hr", "img", "input", "link")

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.crossed: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.crossed.append(tag)


def test_it_asks_for_nothing_beside_itself(text: str) -> None:
    assert not re.search(r"""(src|href|url)\s*=?\s*["'(]\s*(http|//|/)""", text)
    assert "<script" not in text and "<link" not in text


def test_notes_about_the_lot_and_what_people_did_about_its_findings_are_in_it() -> None:
    data = MemoryData([twin()], clock=lambda: END)
    lot = data.lots(LINE)[-1]
    assert "Nobody wrote a note about this lot." in lot_report(data, lot, END)
    short = next(f for f in data.findings(LINE) if f.last.channel == "feeder_rate:F4").last.finding

    write_note(data, lot, "Ana", "colour <b> checked & good")
    data.act(LINE, short, "shelved", "Ben", "hopper is being cleaned", END + 600 * SECOND)
    text = lot_report(data, lot, END)

    assert "Ana: " in text and "colour &lt;b&gt; checked &amp; good" in text and "Nobody wrote" not in text
    assert "by Ben" in text and "hopper is being cleaned" in text


def test_it_is_well_formed(text: str) -> None:
    found = Balance()
    found.feed(text)

    assert (found.open, found.crossed) == ([], [])


def test_every_finding_of_the_lot_is_in_it(text: str, data: MemoryData) -> None:
    lot = data.lots(LINE)[-1]
    found = data.run(LINE, lot.start, lot.end).findings
    assert found
    for finding in found:
        assert as_html(finding.last.summary) in text
        assert as_html(finding.last.caution) in text


def test_it_says_what_judged_it(text: str, data: MemoryData) -> None:
    line = data.line(LINE)
    assert line is not None and line.version in text and "never replaces burst disc" in text


def test_times_outside_a_window_are_those_of_the_cells(data: MemoryData) -> None:
    """Against numpy over the same 10 s means, for the feeder that goes short."""
    lot = data.lots(LINE)[-1]
    run = data.run(LINE, lot.start, lot.end)
    kept = next(one for one in windows_kept(data, run) if one.key == "feeder_rate:F4")
    cells = means(data.source, LINE, lot.start, lot.end, ("feeder_rate:F4",), 10 * SECOND)
    judged = np.zeros(cells.mean.shape[1], bool)
    for phase in run.phases:
        judged |= (phase.name == "steady") & (cells.times() >= phase.start) & (cells.times() < phase.end)
    low, _ = kept.limits

    assert kept.under_s == 10.0 * np.count_nonzero(cells.mean[0][judged] < low) > 600
    assert kept.low == pytest.approx(np.nanmin(cells.mean[0][judged]))


def test_a_plain_start_is_told_from_what_the_recipe_states() -> None:
    """The recipe's own limits of Z3 stand without a word; taken out of it, its target alone is left."""
    told = []
    for without in ("", "zone_temperature:Z3"):
        plant = twin()
        recipe = plant.recipes[0]
        windows = [window for window in recipe.window if window.key != without]
        windows += [Window(role="zone_temperature", at=zone, low=c - 9.0, target=c, high=c + 9.0)
                    for zone, c in recipe.zones.items()
                    if f"zone_temperature:{zone}" not in {without, *(w.key for w in windows)}]  # fmt: skip
        plant.recipes = [recipe.model_copy(update={"window": windows}), *plant.recipes[1:]]
        data = MemoryData([plant], clock=lambda: END)
        told.append(lot_report(data, data.lots(LINE)[-1], END))
    assert "a plain start of" not in told[0] and "Z3 temperature *" not in told[0]
    assert "a plain start of 3.0 and 5.0" in told[1] and told[1].count("temperature *") == 1


def test_its_head_gives_the_year_of_the_lot_and_of_itself(text: str) -> None:
    head = text[: text.index('class="verdict')]
    assert "3 Mar 2026 05:29 to 07:29" in head and "Report made 3 Mar 2026 07:29" in head


def test_a_channel_without_one_reading_was_not_measured_and_not_never_outside() -> None:
    held = twin()
    held.block.values[held.block.channels.index("vacuum:V1")] = np.nan
    data = MemoryData([held], clock=lambda: END)
    text = lot_report(data, data.lots(LINE)[-1], END)
    (row,) = re.findall(r"<tr[^>]*>(?:(?!</tr>).)*V1 vacuum(?:(?!</tr>).)*</tr>", text)
    assert "not measured" in row and "never" not in row


def test_containers_and_the_lines_for_a_decision_come_before_the_long_tables(text: str) -> None:
    places = [
        text.index(f">{part}") for part in ("Decision, by hand<", "Containers<", "Product touched<", "Recipe windows<")
    ]
    assert places == sorted(places)
    assert text.count('class="blank"') == 3 and ">Name<" in text and ">Date<" in text


def test_what_was_different_about_the_lot_is_on_paper_too(text: str, data: MemoryData) -> None:
    rows = as_html(different_rows(data, data.lots(LINE)[-1], {}))
    assert say("different.title") in rows and rows in text


def test_the_page_gives_it_away(data: MemoryData) -> None:
    client = create_app(data).server.test_client()
    lot = data.lots(LINE)[-1]
    answer = client.get(report_url(LINE, lot.number))

    assert answer.status_code == 200 and answer.mimetype == "text/html"
    assert client.get(report_url(LINE, "no such lot")).status_code == 404
    assert client.get(report_url("no such line", lot.number)).status_code == 404


def test_parts_become_text_with_nothing_unescaped() -> None:
    part = html.Div([html.Span("a < b & c", title='say "x"'), dcc.Link("here", href="/x"), None, 3], className="what")

    assert as_html(part) == '<div class="what"><span title="say &quot;x&quot;">a &lt; b &amp; c</span>here3</div>'
    assert as_html(dcc.Link("here", href="/x"), link=lambda href: "#y") == '<a href="#y">here</a>'


def test_a_part_without_likeness_on_paper_is_refused() -> None:
    with pytest.raises(TypeError, match="Graph"):
        as_html(dcc.Graph())
