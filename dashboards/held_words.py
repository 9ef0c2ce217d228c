"""Which product an upset touched, in words: kilograms, and the containers to hold and to check."""

from __future__ import annotations

import math
from collections.abc import Sequence

from dashboards.clock import PlantClock
from dashboards.names import rate
from dashboards.shown_units import shown_unit
from dashboards.texts import say
from dashboards.touched import Container

MOST_NAMED = 8
"""Containers named in the headline; the table below has them all."""

LEAST_TOLD_KG = 0.5
"""Less that is in no container is the rounding of the cells."""


def kilograms(kg: float) -> str:
    """Kilograms without their unit, as a column has them; 'not known' where they are not."""
    return say("touched.not_known") if math.isnan(kg) else rate(kg)


def mass(kg: float) -> str:
    """'302 kg', or 'mass not known'."""
    return say("touched.mass_not_known") if math.isnan(kg) else f"{rate(kg)} {shown_unit('kg')}"


def to_hold(packed: Sequence[Container], clock: PlantClock, outside_kg: float = 0.0) -> str:
    """Which containers to hold and which to check, by their numbers; what is in none of them, with its kilograms."""
    words = []
    for verdict in ("hold", "check"):
        held = [item for item in packed if item.verdict == verdict and item.kg_outside == 0]
        names = [container_name(item, clock) for item in held if not item.after]
        more = f" + {len(names) - MOST_NAMED}" if len(names) > MOST_NAMED else ""
        told = [", ".join(names[:MOST_NAMED]) + more] if names else []
        told += [_all_after(item, clock) for item in held if item.after]
        if told:
            words.append(say(f"lot.{verdict}", names=say("lot.and").join(told)))
    if packed and math.isnan(outside_kg):
        words.append(say("lot.some_in_no_container"))
    elif packed and outside_kg >= LEAST_TOLD_KG:
        words.append(say("lot.in_no_container", kg=rate(outside_kg)))
    return "".join(words)


def outside_in(packed: Sequence[Container], clock: PlantClock) -> str:
    """The containers that are to be checked for what was made beyond an outer limit without a finding; '' of none."""
    names = [container_name(item, clock) for item in packed if item.kg_outside != 0]
    more = f" + {len(names) - MOST_NAMED}" if len(names) > MOST_NAMED else ""
    return say("lot.unheld_in", names=", ".join(names[:MOST_NAMED]) + more) if names else ""


def _all_after(item: Container, clock: PlantClock) -> str:
    until = clock.since(item.end, item.start)
    if math.isnan(item.kg_touched):
        return say("lot.all_after_unknown", number=item.number, at=until)
    return say("lot.all_after", number=item.number, at=until, kg=rate(item.kg_touched))


def container_name(item: Container, clock: PlantClock) -> str:
    """Its number, or that it came after the last one that is known, and until when."""
    if item.after:
        return say("container.after", number=item.number, at=clock.since(item.end, item.start))
    return item.number or "–"
