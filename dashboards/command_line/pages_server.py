"""Serves the pages on this computer only."""

from __future__ import annotations

import logging
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from dashboards.command_line.memory_returned import return_memory, trimmed
from dashboards.command_line.told import Told

LOOPBACK = "127.0.0.1"
THREADS = 8


def refuse_taken(port: int) -> None:
    """Raises Told when the port cannot be had, before any long work is done for nothing."""
    with socket.socket() as probe:
        # As the server itself will ask for it: a port that was just let go may be had again.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((LOOPBACK, port))
        except OSError as error:
            raise _taken(port, error) from None


def _taken(port: int, error: OSError) -> Told:
    return Told(
        f"Port {port} of this computer cannot be used ({(error.strerror or str(error)).lower()}). "
        "End what runs there, or give another with --port."
    )


@contextmanager
def served(app: Any, port: int) -> Iterator[str]:
    """Serve a Dash app from a thread until the block ends; gives its address.

    port 0 takes any free one. Raises Told when the port is taken.
    """
    from waitress.server import create_server

    # A browser that asks for several pieces at once is no news to a person.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    return_memory()
    try:
        server: Any = create_server(app.server, host=LOOPBACK, port=port, threads=THREADS)
    except OSError as error:
        raise _taken(port, error) from None
    thread = threading.Thread(target=_run, args=(server,), name="pages", daemon=True)
    thread.start()
    try:
        with trimmed():
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
