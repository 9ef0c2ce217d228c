"""A zone behind the screw that is too hot with the melt, or far hotter than it: which of the two heats the other."""

from __future__ import annotations

from monitor.conditions.over_temperature import OverTemperature
from tests.monitor.conditions.told import told, twin, without

LOG_S, FROM, TO = 4800, 3000, 3900


def test_a_body_behind_melt_that_is_as_much_hotter_is_heated_by_it() -> None:
    """No output logged, two bodies at once, after the melt: no two contactors."""
    s = twin(LOG_S)
    s.x["melt_temperature:MT1"][s.span(FROM, TO)] += 18
    for zone in ("ADAPTER", "DIE"):
        at = float(s.x[f"zone_temperature:{zone}"][s.span(0, 60)].mean())
        s.put(f"zone_temperature:{zone}", FROM + 60, TO, at, slope_s=15 / (TO - FROM))
    found = told(s, OverTemperature(), line=without(s.line, "zone_output"))
    causes = {one.last.channel: one.last.cause_texts for one in found}

    assert causes["zone_temperature:DIE"][0] == causes["zone_temperature:ADAPTER"][0] == "hotter melt from the screw"


def test_a_body_far_hotter_than_the_melt_is_not_heated_by_it_although_that_grows_hotter() -> None:
    s = twin(LOG_S)
    at = float(s.x["zone_temperature:ADAPTER"][s.span(0, 60)].mean())
    s.put("zone_temperature:ADAPTER", FROM, TO, at, slope_s=80 / (TO - FROM))
    s.x["melt_temperature:MT1"][s.span(FROM + 120, TO)] += 12
    found = told(s, OverTemperature(), line=without(s.line, "zone_output"))
    zone = next(one.last for one in found if one.last.channel == "zone_temperature:ADAPTER")

    assert zone.cause_texts[0].startswith("contactor stuck on") and zone.causes[-1].speaks_against
