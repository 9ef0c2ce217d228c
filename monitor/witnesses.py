"""What findings that stand say for each other's causes."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import Any

from monitor.contract import NS
from monitor.records import Cause

WITNESS_NS = 600 * NS
"""A finding that has ended longer ago says nothing for or against a cause any more."""

Standing = dict[str, dict[str, Any]]
"""Finding id -> condition, channel, since, priority, raised (by what it explains), part_of, ended (None while open),
moved and, while it is open, its newest record: of findings that are open or ended a short while ago."""


class Witnesses:
    """What the standing findings say of each other's causes at a moment: what is asked of them by every open finding
    whenever anything opens, so that it is put in order once.

    summaries: of all findings that stand.
    """

    def __init__(self, standing: Standing, now_ns: int) -> None:
        self.standing, self.now_ns = standing, now_ns

    @functools.cached_property
    def summaries(self) -> frozenset[str]:
        """What all standing findings say."""
        return frozenset([one["summary"] for one in self.standing.values()])

    @functools.cached_property
    def _heard(self) -> dict[str, list[tuple[int, str, str]]]:
        """Condition -> since, id and summary of its findings that are open or have ended a short while ago."""
        heard: dict[str, list[tuple[int, str, str]]] = {}
        for key, one in self.standing.items():
            if one["ended"] is None or one["ended"] > self.now_ns - WITNESS_NS:
                heard.setdefault(one["condition"], []).append((one["since"], key, one["summary"]))
        return heard

    def may_tell_of(self, cause: Cause) -> bool:
        """Whether any finding is there that can bear witness for a cause."""
        return bool(cause.shown_by) and not self._heard.keys().isdisjoint(cause.shown_by)

    def for_cause(self, cause: Cause, identity: str) -> list[str]:
        """Summaries of the other findings that newly bear witness for a cause of this one, the oldest first."""
        if not self.may_tell_of(cause):
            return []
        heard = self._heard
        found = sorted(item for name in {*cause.shown_by} if name in heard for item in heard[name])
        return [
            said
            for _, key, said in found
            # What only follows from a finding says nothing for another cause of it.
            if key != identity and self.standing[key]["part_of"] != identity and said not in cause.speaks_for
        ]


def ranked(causes: tuple[Cause, ...], identity: str, witnesses: Witnesses) -> tuple[Cause, ...]:
    """Causes that another finding bears witness for come first, with that finding named; else the order stands."""
    if not any(cause.speaks_for or witnesses.may_tell_of(cause) for cause in causes):
        return causes
    backed = []
    for cause in causes:
        new = witnesses.for_cause(cause, identity)
        backed.append(replace(cause, speaks_for=(*cause.speaks_for, *new)) if new else cause)
    if not any(cause.speaks_for for cause in backed):
        return tuple(backed)
    return tuple(sorted(backed, key=lambda cause: witnesses.summaries.isdisjoint(cause.speaks_for)))
