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


def test_what_came_after_the_last_container_is_named_after_them_even_behind_many() -> None:
    after = Container("B9", 9, 12, 300.0, 99.0, (), "hold", after=True)

    assert to_hold([*packed("hold"), after]) == " Hold: B1 and all packed after B9 (99.0 kg of it touched)."
    assert to_hold([after]) == " Hold: all packed after B9 (99.0 kg of it touched)."
    many: list[Verdict] = ["hold"] * (MOST_NAMED + 3)
    assert to_hold([*packed(*many), after]).endswith(" + 3 and all packed after B9 (99.0 kg of it touched).")


def test_kilograms_in_no_container_are_told_where_there_are_containers() -> None:
    assert to_hold(packed("hold"), 42.0) == " Hold: B1. 42.0 kg of what is touched is in no container."
    assert to_hold([], 42.0) == to_hold(packed("clear"), 0.2) == ""
