"""Texts stand in one place: in an artificial language no English is left on any page, in any state.

Every text of the table is written in other letters. What is left in plain letters must be data: names of lines,
channels, lots, products, files; numbers and units; what the monitor wrote into the journal and what people wrote.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib.resources import files
from typing import TYPE_CHECKING

import pytest

from dashboards import texts
from dashboards.memory_data import MemoryData
from dashboards.texts import say
from dashboards.texts_english import ENGLISH
from monitor.conditions.registry import CONDITIONS
from tests.dashboards.in_browser import MARKS, Visit, served
from tests.dashboards.page_states import STATES, bring_about, empty_plant, folders, full_plant

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = MARKS
ARTIFICIAL = "qps"
FIELD = re.compile(r"(\{[^}]*\})")
OTHER_LETTERS = str.maketrans("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ",
                              "абцдефгхийклмнопярстувшхыжАБЦДЕФГХИЙКЛМНОПЯРСТУВШХЫЖ")  # fmt: skip
WORD = re.compile(r"(?<![\w.])[A-Za-z]{2,}(?:['’-][A-Za-z]+)*(?!\w)")
UNITS = {
    "bar",
    "psi",
    "rpm",
    "mbar",
    "kWh",
    "kW",
    "mm",
    "min",
    "kg",
    "lb",
    "UTC",
    "CSV",
    "PNG",
    "SVG",
    "TOML",
    "Evenmelt",
}
"""Symbols and names that are the same in every language."""

PLAIN = {text for text in ENGLISH.values() if not FIELD.search(text) and len(set(WORD.findall(text)) - UNITS) > 1}
"""Whole texts of two words and more: none may stand anywhere as it is, whatever words data are made of."""


HEARD = """() => {
  const found = [];
  const skip = 'script, style, textarea, pre, code, .js-plotly-plot .hoverlayer';
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    if (!node.parentElement.closest(skip) && node.textContent.trim()) found.push(node.textContent.trim());
  }
  for (const el of document.querySelectorAll('#react-entry-point *')) {
    for (const name of ['aria-label', 'title', 'placeholder', 'alt']) {
      if (el.getAttribute(name) && !el.closest(skip)) found.push(el.getAttribute(name));
    }
  }
  found.push(document.title);
  return found;
}"""


def strange(text: str) -> str:
    """A text in other letters, with its fields as they are."""
    return "".join(part if FIELD.fullmatch(part) else part.translate(OTHER_LETTERS) for part in FIELD.split(text))


def data_words(data: MemoryData) -> set[str]:
    """Words that come from the plant, the monitor or people, and not from the pages."""
    told: list[str] = [condition.title for condition in CONDITIONS]
    for name in data.line_names():
        line = data.source.line(name)
        told += [line.model_dump_json(), *line.channels, *(r.model_dump_json() for r in data.recipes(name))]
        told += [str(note) for note in data.notes(name)]
        told += [str(action) for action in data.actions(name)]
        told += [f"{finding!r} {finding.last.condition.replace('_', ' ')}" for finding in data.findings(name)]
        told += [str(data.account(name))]
    accounts = [key.replace("_", " ") for name in data.line_names() for key in data.account(name)]
    return {word.lower() for text in told for word in WORD.findall(text)} | set(accounts)


def file_words() -> set[str]:
    """Words of the line and recipe file that the pages about files show."""
    logs = files("sample_logs").joinpath("logs/twin_clean")
    told = [logs.joinpath(f"{kind}.toml").read_text(encoding="utf-8") for kind in ("line", "recipe")]
    return {word.lower() for text in told for word in WORD.findall(text)}


@pytest.fixture(autouse=True, scope="module")
def artificial() -> Iterator[None]:
    patch = pytest.MonkeyPatch()
    patch.setitem(texts.LANGUAGES, ARTIFICIAL, {key: strange(text) for key, text in ENGLISH.items()})
    yield
    patch.undo()


@pytest.fixture(scope="module")
def plants(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[bool, tuple[str, MemoryData]]]:
    full, empty = full_plant(), empty_plant()
    at = tmp_path_factory.mktemp("places")
    for name in ("full", "empty"):
        (at / name).mkdir()
    with (
        served(full, folders(at / "full", empty=False), lang=ARTIFICIAL) as one,
        served(empty, folders(at / "empty", empty=True), lang=ARTIFICIAL) as other,
    ):
        yield {False: (one, full), True: (other, empty)}


def english_in(heard: list[str], known: set[str]) -> list[str]:
    """Words in plain letters that are neither data nor units."""
    left = []
    for text in heard:
        words = [word for word in WORD.findall(text) if word.lower() not in known and word not in UNITS]
        if words or text in PLAIN - known:
            left.append(f"{', '.join(words)} in: {text[:110]}")
    return sorted(set(left))


@pytest.mark.parametrize("name", sorted(STATES))
def test_no_english_is_left(browser: Browser, plants: dict, name: str) -> None:
    state = STATES[name]
    address, data = plants[state.empty]
    visit = Visit(browser, address)
    try:
        visit.page.goto(address + state.path)
        visit.page.wait_for_selector("h1")
        bring_about(visit.page, state)
        heard = visit.page.evaluate(HEARD)
    finally:
        visit.leave()
    known = data_words(data) | file_words() | set(WORD.findall(state.path.lower()))
    assert len(heard) > 10
    assert english_in(heard, known) == []


def test_the_search_for_english_bites() -> None:
    heard = ["Линес", "Talc feeder short", "12 bar", "version 197dfc2b, lime.toml", say("nav.files")]
    found = english_in(heard, {"talc", "version", "line", "and", "recipe"})
    assert found == [
        " in: Line and recipe",
        "feeder, short in: Talc feeder short",
        "lime in: version 197dfc2b, lime.toml",
    ]
