"""Style sheets say what they seem to: nothing is left over ahead of a rule, and no rule stands twice."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

SHEETS = sorted((Path(__file__).parents[2] / "dashboards" / "assets").glob("*.css"))


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_no_selector_is_torn_from_its_rule_and_no_block_stands_twice(sheet: Path) -> None:
    text = re.sub(r"/\*.*?\*/", "", sheet.read_text(encoding="utf-8"), flags=re.DOTALL)
    blocks = Counter(re.sub(r"\s+", " ", block) for block in re.findall(r"@media[^{]*\{(?:[^{}]*\{[^{}]*\})+", text))

    assert text.count("{") == text.count("}")
    assert re.findall(r"[^;{}\s][^;{}]*@(?:media|supports|font-face)[^{]*", text) == []
    assert [block for block, count in blocks.items() if count > 1] == []
