"""The headline of a lot says which containers to hold."""

from __future__ import annotations

from dashboards.pages.lot_parts import MOST_NAMED, to_hold
from dashboards.touched import Container, Verdict


def packed(*verdicts: Verdict) -> list[Container]:
    return [Container(f"B{i + 1}", i, i + 1, 25.0, 5.0, (), verdict) for i, verdict in enumerate(verdicts)]


def test_containers_to_hold_and_to_check_are_named() -> None:
    assert to_hold(packed("clear", "hold", "check", "hold")) == " Hold: B2, B4. Check: B3."
    assert to_hold(packed("clear", "clear")) == to_hold([]) == ""


def test_of_many_the_first_are_named_and_the_rest_counted() -> None:
    many: list[Verdict] = ["hold"] * (MOST_NAMED + 3)
    assert to_hold(packed(*many)).endswith(f"B{MOST_NAMED} + 3.")
