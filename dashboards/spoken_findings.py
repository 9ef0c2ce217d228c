"""What the monitor said about a finding, in the units and the manner of writing the reader chose."""

from __future__ import annotations

import functools
import re
from dataclasses import replace

from dashboards.shown_units import AS_INSIDE, chosen, marked, shown_difference, shown_unit, shown_value
from dashboards.spoken_units import spoken
from monitor.line import Line
from monitor.records import Cause, Evidence, Finding

_DIFFERENCE = re.compile(
    r"\b(?:by|by at least|against expected|peak to peak|wandered|unrest|ripple|spread|difference)\b"
)
"""What a fact in C calls itself where it is a difference, not a level."""


def spoken_finding(line: Line, finding: Finding) -> Finding:
    """The finding with all its texts and facts as the reader wants them; the same object where nothing changes."""
    if chosen.get() == AS_INSIDE:
        return finding
    names, last = names_of(line), finding.last
    told = replace(
        last,
        summary=spoken(last.summary, names),
        evidence=tuple(spoken_fact(fact, names) for fact in last.evidence),
        causes=tuple(
            Cause(
                spoken(cause.text, names),
                tuple(spoken(text, names) for text in cause.speaks_for),
                tuple(spoken(text, names) for text in cause.speaks_against),
                cause.shown_by,
            )
            for cause in last.causes
        ),
        checks=tuple(spoken(text, names) for text in last.checks),
        caution=spoken(last.caution, names),
    )
    return replace(finding, last=told)


def spoken_fact(fact: Evidence, names: tuple[str, ...]) -> Evidence:
    """One measured fact with its value, its expected value and its unit as shown."""
    turn = shown_difference if fact.unit == "C" and _DIFFERENCE.search(fact.what) else shown_value
    value, expected = ((None if v is None else turn(v, fact.unit)) for v in (fact.value, fact.expected))
    return replace(fact, what=spoken(fact.what, names), value=value, expected=expected, unit=shown_unit(fact.unit))


def fact_words(fact: Evidence) -> str:
    """A fact, already in shown units, as a sentence with the reader's decimal mark."""
    text = fact.sentence()
    return fact.what + re.sub(r"\d+\.\d+", lambda found: marked(found.group()), text.removeprefix(fact.what))


def names_of(line: Line) -> tuple[str, ...]:
    """What this line calls its parts, so that a number in a name is not taken for a reading."""
    return _names(line.name, tuple(line.zone_names), tuple((f.name, f.title, f.material) for f in line.feeder),
                  tuple(v.name for v in line.vent), tuple(s.at for s in line.sensor))  # fmt: skip


@functools.lru_cache(maxsize=64)
def _names(line: str, zones: tuple, feeders: tuple, vents: tuple, sensors: tuple) -> tuple[str, ...]:
    told = {line, *zones, *vents, *sensors, *(part for feeder in feeders for part in feeder)}
    return tuple(sorted(part for part in told if part))
