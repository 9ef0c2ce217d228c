"""What the readings of a tag are like, in words for who must tell what it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ingest.propose.relations import Relations
from ingest.propose.tag_numbers import TagNumbers

_NAMED = 3


def seen_of(tag: str, numbers: Mapping[str, TagNumbers], relations: Relations, apart_s: Mapping[str, float]) -> str:
    """Range, kind of course, pace and company of a tag; '' where nothing was read."""
    one = numbers.get(tag)
    return "; ".join(_parts(tag, one, relations, apart_s.get(tag, 0.0))) if one is not None and one.count else ""


def _parts(tag: str, one: TagNumbers, relations: Relations, apart_s: float) -> Iterator[str]:
    if one.constant:
        yield f"{one.middle:.6g} throughout"
    elif one.switch:
        yield "switches between 0 and 1"
    else:
        steps = ", in steps" if one.stepped else ""
        yield f"{one.low:.6g} to {one.high:.6g}, mostly about {one.middle:.6g}{steps}"
    if apart_s > 0:
        yield f"a reading every {apart_s:.3g} s at the latest"
    yield from _company("sits at", [pair.wanted for pair in relations.follows if pair.actual == tag])
    yield from _company("set-point or the like of", [pair.actual for pair in relations.follows if pair.wanted == tag])
    yield from _company("falls as", [pair.second for pair in relations.falls if pair.first == tag])
    yield from (f"on while '{pair.second}' goes up" for pair in relations.refills if pair.first == tag)


def _company(how: str, tags: list[str]) -> Iterator[str]:
    if tags:
        named = ", ".join(f"'{tag}'" for tag in tags[:_NAMED])
        yield f"{how} {named}" + (f" and {len(tags) - _NAMED} more" if len(tags) > _NAMED else "")
