"""Two things at a time: the next item is made while the one before it is used in another thread."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Generator, Iterable
from typing import TypeVar

Item = TypeVar("Item")

_AHEAD = 2


def relayed(items: Iterable[Item], use: Callable[[Item], None]) -> Generator[Item, None, None]:
    """The items as they are made, while `use` gets them one by one, in order, in a thread of its own.

    At most a few items wait. All have been used when the iterator is at its end; what `use` raises, the iterator
    raises. Where it is left early, items that wait are not used.
    """
    waiting: queue.Queue[Item | None] = queue.Queue(_AHEAD)
    failed: list[BaseException] = []
    left = threading.Event()

    def work() -> None:
        while (item := waiting.get()) is not None:
            if not failed and not left.is_set():
                try:
                    use(item)
                except BaseException as error:
                    failed.append(error)

    thread = threading.Thread(target=work, name="relay")
    thread.start()
    try:
        for item in items:
            if failed:
                break
            waiting.put(item)
            yield item
    except BaseException:
        left.set()
        raise
    finally:
        waiting.put(None)
        thread.join()
    if failed:
        raise failed[0]
