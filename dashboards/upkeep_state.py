"""Whether what an upkeep item tells is so now, was so until when, or came and went: in one plain sentence."""

from __future__ import annotations

from dashboards.clock import SECOND, PlantClock, duration
from dashboards.said_when import when_said
from dashboards.texts import say
from dashboards.upkeep_item import CALLING_STRAIN, UpkeepItem
from dashboards.upkeep_words import check_words
from dashboards.views import end_of
from monitor.records import Finding


def state_words(item: UpkeepItem, clock: PlantClock) -> str:
    """Its state, and what is due of it."""
    return f"{_state(item, clock)} {item.due}".strip()


def _state(item: UpkeepItem, clock: PlantClock) -> str:
    """'So now, since 14:32, 2 h.', 'Over: was so 13:05 to 13:40, 35 min.', ...; '' for what is as usual."""
    back = _back(item, clock)
    if item.standing and not back:
        # The one whose words stand beside it, not the oldest.
        told = item.standing[0]
        began, lasted = told.last.since, duration((item.end - told.last.since) / SECOND)
        key = "upkeep.state.now" if item.live else "upkeep.state.at_end"
        if item.untold:
            key = "upkeep.state.stood"
        text = say(key, since=clock.since(began, item.end), time=lasted, end=clock.day_minute(item.end))
        return f"{text} {_before(item)}".strip()
    key, at = "", item.end
    if item.checks:
        key, at = "check", max(check.at for check in item.checks)
    elif item.stop is not None or item.strain >= CALLING_STRAIN:
        key = ("trend" if item.stop is not None else "strain") + ("" if item.live else "_at_end")
    if key:
        return " ".join(
            part for part in (say(f"upkeep.state.{key}", at=clock.day_minute(at)), back, _before(item)) if part
        )
    return f"{back} {_before(item)}".strip() if back else _gone(item, clock)


def _back(item: UpkeepItem, clock: PlantClock) -> str:
    """That its open finding is not so any more, where none of its findings still holds; '' elsewhere."""
    first = next(iter(item.standing), None)
    since = dict(item.back).get(first.last.finding) if first is not None else None
    if first is None or since is None:
        return ""
    key = "upkeep.state.back" if item.state == "back" else "upkeep.state.back_too"
    return say(key, at=clock.since(since, item.end), since=clock.since(first.last.since, item.end))


def told_words(item: UpkeepItem, clock: PlantClock) -> list[str]:
    """What is or was the matter: failed sensor checks, then the words of the finding, with when they were said."""
    told = [check_words(check, clock) for check in item.checks]
    if item.standing:
        last = item.standing[0].last
        told.append(f"{last.summary} ({when_said(last, item.end, clock)})")
    elif item.gone:
        worst = item.gone[0]
        when = _when(worst, item, clock)
        if len(item.gone) > 1:
            told.append(say("upkeep.worst", when=when, summary=worst.last.summary))
        else:
            # Its sentence of state has its time already, unless that is about something else.
            alone = item.state == "now" or item.checks
            told.append(f"{when}: {worst.last.summary}" if alone else worst.last.summary)
    return told


def lately_words(item: UpkeepItem) -> str:
    """Its present figures, and of which minutes they are."""
    if item.words == say("upkeep.nothing"):
        return item.words
    return say("upkeep.lately" if item.live else "upkeep.lately_at_end", words=item.words)


def _before(item: UpkeepItem) -> str:
    count = len(item.gone)
    return say("upkeep.state.before_one" if count == 1 else "upkeep.state.before", count=str(count)) if count else ""


def _gone(item: UpkeepItem, clock: PlantClock) -> str:
    if not item.gone:
        return ""
    newest = max(item.gone, key=lambda f: end_of(f, item.end))
    many = "many" if len(item.gone) > 1 else "once"
    lasted = duration((end_of(newest, item.end) - newest.last.since) / SECOND)
    when = _when(newest, item, clock)
    # A moment has its length in it already.
    time = "" if lasted in when else f", {lasted}"
    key = f"upkeep.state.gone_{many}" if item.live else f"upkeep.state.gone_{many}_at_end"
    return say(key, count=str(len(item.gone)), when=when + time, end=clock.day_minute(item.end))


def _when(finding: Finding, item: UpkeepItem, clock: PlantClock) -> str:
    return clock.interval(finding.last.since, end_of(finding, item.end))
