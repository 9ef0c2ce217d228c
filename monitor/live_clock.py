"""The wall clock, and the wish to stop: the only two things of the outside world a live service looks at."""

from __future__ import annotations

import signal
import time
from typing import Protocol

import pyarrow as pa


class Clock(Protocol):
    """Says what time it is."""

    def now_ns(self) -> int:
        """UTC nanoseconds."""
        ...


class WallClock:
    """This computer's clock."""

    def now_ns(self) -> int:
        """UTC nanoseconds."""
        return time.time_ns()


class Stop(Protocol):
    """Says whether to stop; `threading.Event` is one."""

    def is_set(self) -> bool: ...

    def wait(self, timeout: float) -> bool: ...


class StopRequest:
    """Set by a signal, seen by the loop.

    An Event must not be set inside a signal handler: the handler may have interrupted the very `wait` whose
    lock `set` needs. This one is a plain flag, looked at every 50 ms.
    """

    LOOK_EVERY_S = 0.05

    def __init__(self) -> None:
        self._requested = False

    def request(self, *_: object) -> None:
        """Ask to stop."""
        self._requested = True

    def is_set(self) -> bool:
        """Whether somebody asked."""
        return self._requested

    def wait(self, timeout: float) -> bool:
        """Sleep for `timeout` seconds, less when somebody asks; whether somebody did."""
        until = time.monotonic() + timeout
        while not self._requested and (left := until - time.monotonic()) > 0:
            time.sleep(min(left, self.LOOK_EVERY_S))
        return self._requested

    def on_signals(self) -> StopRequest:
        """Stop on Ctrl-C and on a polite kill, at a place where nothing is lost."""
        # Arrow would take the signals for itself while it reads a file, and break the reading off half way.
        pa.enable_signal_handlers(False)
        signal.signal(signal.SIGINT, self.request)
        signal.signal(signal.SIGTERM, self.request)
        return self
