"""Serves the pages on this computer only."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from dashboards.command_line.told import Told

LOOPBACK = "127.0.0.1"
THREADS = 8


@contextmanager
def served(app: Any, port: int) -> Iterator[str]:
    """Serve a Dash app from a thread until the block ends; gives its address.

    port 0 takes any free one. Raises Told when the port is taken.
    """
    from waitress.server import create_server

    try:
        server: Any = create_server(app.server, host=LOOPBACK, port=port, threads=THREADS)
    except OSError as error:
        raise Told(
            f"Port {port} of this computer cannot be used ({(error.strerror or str(error)).lower()}). "
            "End what runs there, or give another with --port."
        ) from None
    thread = threading.Thread(target=_run, args=(server,), name="pages", daemon=True)
    thread.start()
    try:
        yield f"http://{LOOPBACK}:{server.effective_port}/"
    finally:
        server.close()
        thread.join(timeout=5)


def _run(server: Any) -> None:
    try:
        server.run()
    except OSError:
        # Closing the server from outside takes the socket away under its loop; that is how it ends.
        return
