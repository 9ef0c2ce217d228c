"""Words for many set-points that are not the recipe's at once."""

from __future__ import annotations

from monitor import mistaken_unit
from monitor.contract import Explanation
from monitor.records import Cause, Evidence


def many_setpoints(level: int, facts: dict[str, float]) -> Explanation:
    """facts: count, and unit, 1 and up, if they are the recipe's in one of `mistaken_unit.UNITS`."""
    count, unit = f"{facts['count']:.0f} set-points", int(facts["unit"])
    name = mistaken_unit.UNITS[unit - 1] if unit else ""
    wrong_unit = (
        Cause("wrong unit in the line file", (f"all zones are the recipe's if they are in {name}",)),
        f'unit = "{name}" at these sensors of the line file, and at their readings',
    )
    return Explanation(
        f"{count} are this recipe's only in {name}: is the unit in the line file right?"
        if unit
        else f"{count} are not this recipe's: another one is loaded?",
        {1: 4, 2: 3, 3: 2}[level],
        "high",
        (Evidence("set-points that are not the recipe's", facts["count"], ""),),
        (
            *(wrong_unit[:1] if unit else ()),
            Cause("another recipe, or another version of it, is loaded on the line", ("many are off at once",)),
            "the recipe in force is not the one named here",
            "set by hand, one after the other",
        ),
        (
            *(wrong_unit[1:] if unit else ()),
            "the recipe on the line's own panel",
            "the lot on the order",
            "product since then: set aside",
        ),
    )
