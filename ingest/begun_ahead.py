"""Work on the next items of a row, begun in other threads while the present one is used."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

AHEAD = 2
"""Items begun behind the present one, each in a thread of its own."""


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
    failed: Exception | None = None
    waiting: deque[tuple[Item, Future[Result] | None]] = deque([(first, None)])
    with ThreadPoolExecutor(AHEAD, "begun ahead") as others:
        while waiting:
            while failed is None and len(waiting) <= AHEAD:
                try:
                    item = next(items, None)
                except Exception as error:
                    failed = error
                    break
                if item is None:
                    break
                if waiting[0][1] is None:
                    waiting[0] = (waiting[0][0], others.submit(work, waiting[0][0]))
                waiting.append((item, others.submit(work, item)))
            now, begun = waiting.popleft()
            yield now, (begun.result if begun is not None else None)
    if failed is not None:
        raise failed
