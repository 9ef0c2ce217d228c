"""A lot names what ran beyond an outer limit without a finding that holds it, and is silent where one does."""

from __future__ import annotations

import pytest

from dashboards.held import held_of
from dashboards.lot_product import product_of
from dashboards.memory_data import MemoryData
from dashboards.outside_unheld import outside_unheld, without
from dashboards.pages import lot_parts
from dashboards.report.as_html import as_html
from dashboards.report.lot_report import lot_report
from tests.dashboards.lines import twin
from tests.dashboards.plant import END

LINE = "Line 3"
SAID = "Also outside an outer limit, without a finding that holds it"


def plant(*, findings: bool = True, **over: tuple[str, int, int, float]) -> MemoryData:
    """over: channel, from and to in seconds before the end, what it reads then."""
    held = twin()
    if not findings:
        held.findings = []
    for key, first, last, value in over.values():
        row = held.block.channels.index(key)
        held.block.values[row, held.block.n - first : held.block.n - last] = value
    return MemoryData([held], clock=lambda: END)


def told(data: MemoryData) -> str:
    lot = data.lots(LINE)[-1]
    return as_html(lot_parts.stretch_words(data, lot, data.run(LINE, lot.start, lot.end), {}, True)[0])


def test_it_is_silent_where_findings_hold_what_is_outside() -> None:
    """Talc is beyond its outer limit for 24 min, and its own finding covers them."""
    assert SAID not in told(plant())


def test_a_zone_outside_without_a_finding_is_named_with_its_minutes_and_kilograms() -> None:
    """23 min at the 509.7 kg/h of the feeders, and 3.6 residence times of 41 s and the volume behind the screw more."""
    data = plant(z=("zone_temperature:Z3", 4800, 3420, 120.0))
    lot = data.lots(LINE)[-1]
    run = data.run(LINE, lot.start, lot.end)
    product = product_of(data, LINE, run.t0, run.t1)
    found = outside_unheld(data, run, product)

    assert found is not None and dict(found.seconds)["zone_temperature:Z3"] == pytest.approx(23 * 60, abs=20)
    lasts_s = 23 * 60 + 3.6 * product.delay.residence_s + product.delay.downstream_s
    assert found.kg == pytest.approx(509.7 * lasts_s / 3600, rel=0.02)
    assert f"{SAID}: Z3 temperature 23 min, about {found.kg:.0f} kg; look before release." in told(data)
    assert SAID in lot_report(data, lot, END)


def test_a_container_with_some_of_it_is_to_be_checked_and_never_called_untouched() -> None:
    """Half an hour of Z3 far under, in the middle of the two containers of the lot, and no finding at all."""
    data = plant(findings=False, z=("zone_temperature:Z3", 4800, 3420, 120.0))
    lot = data.lots(LINE)[-1]
    run = data.run(LINE, lot.start, lot.end)
    held = held_of(data, lot, run)
    assert held.unheld is not None and held.packed
    within = [any(a < one.end and b > one.start for a, b in held.unheld.spans) for one in held.packed]
    assert any(within) and not all(within)
    assert [one.verdict for one in held.packed] == ["check" if inside else "clear" for inside in within]
    kg = sum(one.kg_outside for one in held.packed)
    assert kg == pytest.approx(held.unheld.kg, rel=0.02)
    text = told(data)
    first = next(one for one, inside in zip(held.packed, within, strict=True) if inside)
    assert f"It is in: {first.number}" in text
    assert "Touched" not in text and "Check: " not in text, "a finding touches none of it"
    rows = as_html(lot_parts.body(data, lot, run, {})[0])
    assert "beyond an outer limit without a finding, " in rows


def test_what_a_finding_of_another_channel_holds_is_not_told_again() -> None:
    data = plant(z=("zone_temperature:Z3", 1200, 600, 120.0))
    assert SAID not in told(data) and SAID in told(plant(findings=False, z=("zone_temperature:Z3", 1200, 600, 120.0)))


def test_a_note_holds_nothing() -> None:
    """The drift of Z10 is open, and no finding that counts for product."""
    assert f"{SAID}: Z10 temperature 10 min" in told(plant(z=("zone_temperature:Z10", 2400, 1800, 120.0)))


def test_a_moment_and_what_is_between_inner_and_outer_limit_is_not_told() -> None:
    assert SAID not in told(plant(z=("zone_temperature:Z3", 3600, 3570, 120.0)))
    near = twin().recipes[0].zones["Z3"] + 4.0
    assert SAID not in told(plant(z=("zone_temperature:Z3", 4800, 3420, near)))


def test_spans_less_those_held() -> None:
    assert without([(0, 10), (20, 30)], [(5, 22), (25, 26)]) == [(0, 5), (22, 25), (26, 30)]
    assert without([(0, 10)], [(0, 10)]) == [] and without([], [(0, 1)]) == []
