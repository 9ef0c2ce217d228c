"""Items used in another thread: in order, all of them, and errors come back."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import closing

import pytest

from ingest.archive.relay import relayed


def test_all_items_are_used_in_order_before_the_end() -> None:
    used: list[int] = []
    assert list(relayed(range(100), used.append)) == list(range(100))
    assert used == list(range(100))


def test_what_use_raises_is_raised() -> None:
    used: list[int] = []

    def use(item: int) -> None:
        if item == 3:
            raise OSError(28, "No space left on device")
        used.append(item)

    with pytest.raises(OSError, match="No space"):
        list(relayed(range(1000), use))
    assert used == [0, 1, 2]


def test_what_the_items_raise_is_raised_and_the_thread_ends() -> None:
    def items() -> Iterator[int]:
        yield 1
        raise ValueError("row 2")

    threads = threading.active_count()
    with pytest.raises(ValueError, match="row 2"):
        list(relayed(items(), lambda item: None))
    assert threading.active_count() == threads


def test_left_early() -> None:
    threads, used = threading.active_count(), list[int]()
    with pytest.raises(KeyboardInterrupt), closing(relayed(range(1000), used.append)) as passing:
        for item in passing:
            if item == 5:
                raise KeyboardInterrupt
    assert threading.active_count() == threads and used == list(range(len(used)))
