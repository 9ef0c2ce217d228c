"""Results of the laboratory in a real browser: a file with mistakes, the mended file, the same again, a typed row."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from dashboards.memory_data import MemoryData
from dashboards.urls import lot_url
from tests.dashboards.in_browser import MARKS, Visit, served
from tests.dashboards.lines import twin
from tests.dashboards.plant import END

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = MARKS
HEAD = "sampled,lot,quantity,value,unit,low,high,ingredient,u\n"
RIGHT = HEAD + "2026-03-03 06:29,4417,filler content,15.1,%,19,21,talc T4,0.3\n"
WRONG = HEAD + "2026-03-03 06:29,4417,filler content,much,%,19,21,talc T4,0.3\nnever,4417,ash,20,%,,,,\n"


@pytest.mark.parametrize("width", [1440, 390])
def test_results_are_dropped_mended_and_read_beside_the_log(browser: Browser, width: int) -> None:
    with served(MemoryData([twin()], clock=lambda: END)) as address:
        visit = Visit(browser, address, width)
        page = visit.open(lot_url("Line 3", "4417"), "Lot 4417 on Line 3")
        page.wait_for_selector("#lot-lab >> text=None was given for this stretch")
        page.click("summary >> text=Give results of the laboratory")

        def drop(text: str) -> None:
            given = {"name": "lab.csv", "mimeType": "text/csv", "buffer": text.encode()}
            page.set_input_files("#lot-lab-file input[type=file]", given)  # type: ignore[arg-type]

        drop(RIGHT)
        page.wait_for_selector("#lot-lab-said >> text=Please give a name")
        page.fill("#lot-lab-who", "A. Person")
        drop(WRONG)
        page.wait_for_selector("#lot-lab-said >> text=Row 2, value 'much': is no number")
        assert page.locator("#lot-lab-said li").count() == 2
        assert "None was given" in page.inner_text("#lot-lab")

        drop(RIGHT)
        page.wait_for_selector("#lot-lab-said >> text=Written down: 1.")
        row = page.locator("#lot-lab tbody tr")
        row.wait_for()
        told = row.inner_text()
        assert "filler content 15.1 %" in told and "under its low 19" in told and "does not fit" in told
        assert "a question about both" in told and "talc T4 20." in told
        drop(RIGHT)
        page.wait_for_selector("#lot-lab-said >> text=stood there already: 1")
        assert row.count() == 1

        page.fill("#lot-lab-rows", "2026-03-03 07:20; ; ash; 17,2; %; ; ; ; T4; 0,3")
        page.click("#lot-lab-write")
        page.wait_for_function("document.querySelectorAll('#lot-lab tbody tr').length === 2")
        assert "talc T4 delivers 83.8" in page.inner_text("#lot-lab tbody tr:nth-child(2)")
        assert page.input_value("#lot-lab-rows") == ""
        # Nothing of a row lies off to the side, on a telephone either.
        box = page.locator("#lot-lab .table")
        assert box.evaluate("e => e.scrollWidth <= e.clientWidth + 1")
        assert visit.wrong == []
        visit.leave()
