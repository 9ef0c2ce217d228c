"""Where what was expected of a measured fact comes from, as far as the record of its finding tells."""

from __future__ import annotations

import re

from dashboards.texts import say
from ingest.roles import split_key
from monitor.records import Evidence, Record
from monitor.reference.apply import FROM_REFERENCE

_AGAINST = re.compile(r" (?:against|from) expected$")
_LEARNED = ("net_torque", "sme", "specific_throughput")
"""Neither a set-point nor a recipe nor a line file says what these should be."""


def learned_words(record: Record) -> str:
    """'What net torque should be here was learned within this run.'; '' where the record does not tell that.

    Of a finding that leans on good runs its evidence says so itself. Set-points, limits and windows are not learned.
    """
    if any(fact.what.startswith(FROM_REFERENCE) for fact in record.evidence):
        return ""
    names = dict.fromkeys(_AGAINST.sub("", fact.what) for fact in record.evidence if _is_learned(fact))
    return say("finding.learned", what=", ".join(names)) if names else ""


def _is_learned(fact: Evidence) -> bool:
    if fact.value is None or fact.expected is None:
        return False
    return bool(_AGAINST.search(fact.what)) or split_key(fact.channel)[0] in _LEARNED
