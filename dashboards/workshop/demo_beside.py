"""The demo as a server of its own beside the pages: its journal is thrown away, so no invented lot meets a real one."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time

from dashboards.workshop.job import Job, Status

LONGEST_S = 8 * 3600.0
STARTING_S = 300.0
ENDING_S = 20.0
_ADDRESS = re.compile(r"http://127\.0\.0\.1:\d+/?")


def keep_demo(job: Job) -> None:
    """Starts it, says where it is, and ends it with the server that asked for it. Raises RuntimeError."""
    parent, began = os.getppid(), time.monotonic()
    said = job.folder / "demo.txt"
    command = [sys.executable, "-u", "-m", "dashboards.command_line", "demo", "--port", "0", "--no-browser"]
    with said.open("wb") as out:
        demo = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=out, stderr=subprocess.STDOUT)
    try:
        address = ""
        while os.getppid() == parent and time.monotonic() - began < LONGEST_S:
            text = said.read_text(encoding="utf-8", errors="replace")
            if demo.poll() is not None or (not address and time.monotonic() - began > STARTING_S):
                raise RuntimeError(text[-300:])
            found = _ADDRESS.search(text) if not address else None
            if found:
                address = found.group()
                job.tell(Status("demo", "working", said=address))
            time.sleep(0.5)
    finally:
        demo.terminate()
        try:
            demo.wait(ENDING_S)
        except subprocess.TimeoutExpired:
            demo.kill()
            demo.wait()
