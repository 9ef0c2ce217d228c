"""Starts the long work of a job as a process of its own, so that no page waits for it.

One job at a time for a browser, few for all together. Who runs is read from the disk, so it holds for several
worker processes as well.
"""

from __future__ import annotations

import re
import subprocess
import sys
import threading
from pathlib import Path

from dashboards.workshop.job import Job, Status, found_job
from dashboards.workshop.whole_file import locked, write_whole

MOST_AT_ONCE = 2
STEP_MODULE = "dashboards.workshop.job_step"
_SESSION = re.compile(r"[0-9a-f]{32}")


class Busy(Exception):
    """Another job runs. key: of the one of the same person, '' where others keep the computer busy."""

    def __init__(self, key: str) -> None:
        super().__init__(key)
        self.key = key


def start_step(work: Path, job: Job, step: str, session: str, *arguments: str) -> None:
    """Starts a step; nothing happens where the job works already. Raises Busy, OSError."""
    if not _SESSION.fullmatch(session):
        session = "0" * 32
    sessions = work / "sessions"
    with locked(sessions):
        if job.status().state == "working":
            return
        own = _own(work, session)
        if own is not None and own.key != job.key and own.status().state == "working":
            raise Busy(own.key)
        if _working(work) >= MOST_AT_ONCE:
            raise Busy("")
        (job.folder / "stop").unlink(missing_ok=True)
        job.tell(Status(step, "working"))
        write_whole(sessions / session, job.key.encode())
    with (job.folder / "said.txt").open("ab") as said:
        process = subprocess.Popen(
            [sys.executable, "-m", STEP_MODULE, str(job.folder), step, *arguments],
            stdin=subprocess.DEVNULL, stdout=said, stderr=said,
        )  # fmt: skip
    # Nobody needs its end; it is only taken off the list of processes.
    threading.Thread(target=process.wait, name=f"step {job.key}", daemon=True).start()


def stop_step(job: Job) -> None:
    """Asks the step that runs to end."""
    (job.folder / "stop").touch()


def _own(work: Path, session: str) -> Job | None:
    try:
        return found_job(work, (work / "sessions" / session).read_text(encoding="utf-8"))
    except OSError:
        return None


def _working(work: Path) -> int:
    keys = [path.name for path in work.iterdir() if path.is_dir()]
    return sum(1 for key in keys if (job := found_job(work, key)) is not None and job.status().state == "working")
