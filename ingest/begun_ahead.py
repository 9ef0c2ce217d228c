"""Work on the next item of a row, begun in another thread while the present one is used."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")


def begun_ahead(
    items: Iterator[Item], work: Callable[[Item], Result]
) -> Iterator[tuple[Item, Callable[[], Result] | None]]:
    """Every item with what waits for the result of `work` on it; None where there was nothing to gain.

    work: must not depend on what the user of the items does. A single item gets no thread. What the making of an item
    raises is raised after the items before it were given.
    """
    first = next(items, None)
    if first is None:
        return
    item: Item = first
    begun: Future[Result] | None = None
    with ThreadPoolExecutor(1, "begun ahead") as other:
        while True:
            failed: Exception | None = None
            after: Item | None = None
            try:
                after = next(items, None)
            except Exception as error:
                failed = error
            later = other.submit(work, after) if after is not None else None
            yield item, (begun.result if begun is not None else None)
            if failed is not None:
                raise failed
            if after is None:
                return
            item, begun = after, later
