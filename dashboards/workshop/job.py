"""One log that was brought to the import page: a folder named after its content, where all that is known of it stands.

    work/<key>/job.json          names and paths of the log's files
    work/<key>/log/              the files themselves, where they were dropped and not named by path
    work/<key>/status.json       the step that runs or ran last: how far it is, what came of it
    work/<key>/alive             touched every second by the process that runs
    work/<key>/stop              a person asks it to end
    work/<key>/proposal.json, preview.json, account.json, choices.json, result.json   what the steps and the person left
    work/sessions/<session>      the job a person's browser started last

The same log brought again is the same folder. Folders that nobody touched for KEPT_DAYS go, the oldest first where
they are too large together. Nothing of this lives in the memory of a process.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import time
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from dashboards.workshop.whole_file import write_whole

KEPT_DAYS = 7.0
MOST_KEPT_BYTES = 4 << 30
SILENT_S = 30.0
"""After so long without a sign of life a step counts as ended."""

MOST_DROPPED_BYTES = 48 << 20
MOST_FILES = 60

DEMO = "demo"

_KEY = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True)
class Status:
    """What a job does. state: '' (nothing yet), 'working', 'done' or 'failed'. done, total: bytes, 0 = not known."""

    step: str = ""
    state: str = ""
    done: int = 0
    total: int = 0
    said: str = ""


@dataclass(frozen=True)
class Job:
    """A job folder."""

    folder: Path

    @property
    def key(self) -> str:
        """Its name, as it stands in an address."""
        return self.folder.name

    @property
    def paths(self) -> list[Path]:
        """The files of the log."""
        return [Path(path) for path in self.read("job.json").get("paths", ())]

    @property
    def title(self) -> str:
        """What people call the log."""
        names = self.read("job.json").get("names") or ["?"]
        return names[0] + (f" +{len(names) - 1}" if len(names) > 1 else "")

    def read(self, name: str) -> dict[str, Any]:
        """A JSON file of the folder, {} where there is none."""
        try:
            return json.loads((self.folder / name).read_text(encoding="utf-8"))
        except (OSError, json.JSONDecodeError):
            return {}

    def write(self, name: str, content: Mapping[str, Any]) -> None:
        """Replaces a JSON file of the folder."""
        write_whole(self.folder / name, json.dumps(content, ensure_ascii=False).encode())

    def tell(self, status: Status) -> None:
        """Says how far it is; also a sign of life."""
        self.write("status.json", asdict(status))
        (self.folder / "alive").touch()

    def status(self) -> Status:
        """What it does; a step whose process is gone has failed."""
        found = self.read("status.json")
        status = Status(**found) if found else Status()
        if status.state == "working" and self.silent_s() > SILENT_S:
            return Status(status.step, "failed", said="gone")
        return status

    def silent_s(self) -> float:
        """Seconds since the last sign of life."""
        try:
            return time.time() - (self.folder / "alive").stat().st_mtime
        except OSError:
            return float("inf")


def found_job(work: Path, key: str) -> Job | None:
    """The job of that name."""
    if not _KEY.fullmatch(key) or not (work / key / "job.json").exists():
        return None
    return Job(work / key)


def job_of_files(work: Path, files: Sequence[tuple[str, bytes]]) -> Job:
    """The job of files that were dropped. Raises OSError where the folder cannot be written."""
    digest = hashlib.sha256()
    for name, content in files:
        digest.update(name.encode() + b"\0" + hashlib.sha256(content).digest())
    job = _made(work, digest.hexdigest()[:16])
    if not job.read("job.json"):
        paths = []
        (job.folder / "log").mkdir(exist_ok=True)
        for number, (name, content) in enumerate(files):
            path = job.folder / "log" / _safe(name, number, len(files))
            write_whole(path, content)
            paths.append(str(path))
        job.write("job.json", {"names": [PurePosixPath(name).name for name, _ in files], "paths": paths})
    return job


def job_of_paths(work: Path, paths: Sequence[Path]) -> Job:
    """The job of files on this computer, which stay where they are; a file that grew is another log."""
    digest = hashlib.sha256()
    for path in paths:
        at = path.stat()
        digest.update(f"{path.resolve()}\0{at.st_size}\0{at.st_mtime_ns}\0".encode())
    job = _made(work, digest.hexdigest()[:16])
    if not job.read("job.json"):
        job.write("job.json", {"names": [path.name for path in paths], "paths": [str(p.resolve()) for p in paths]})
    return job


def demo_job(work: Path) -> Job:
    """The job that keeps the demo running: one for all."""
    job = _made(work, hashlib.sha256(b"demo").hexdigest()[:16])
    job.write("job.json", {"names": [DEMO], "paths": []})
    return job


def recent_jobs(work: Path, most: int) -> list[Job]:
    """Logs that were brought, the newest first."""
    if not work.is_dir():
        return []
    jobs = [job for path in work.iterdir() if (job := found_job(work, path.name)) is not None and job.title != DEMO]
    return sorted(jobs, key=lambda job: -_touched(job))[:most]


def _made(work: Path, key: str) -> Job:
    folder = work / key
    folder.mkdir(parents=True, exist_ok=True)
    job = Job(folder)
    (folder / "opened").touch()
    clean(work, keep=key)
    return job


def _safe(name: str, number: int, count: int) -> str:
    """A file name without folders and strange characters; its endings stay, readers look at them."""
    tidy = re.sub(r"[^\w.()+-]+", "_", PurePosixPath(name.replace("\\", "/")).name).lstrip(".")[-120:] or "log"
    return f"{number + 1:03d}-{tidy}" if count > 1 else tidy


def clean(work: Path, *, keep: str = "", now: float | None = None) -> None:
    """Takes away folders nobody touched for long, and the oldest where all are too large; none that works or `keep`."""
    now = time.time() if now is None else now
    jobs = [Job(path) for path in work.iterdir() if _KEY.fullmatch(path.name)]
    old_first = sorted(jobs, key=_touched)
    total = sum(map(_size, old_first))
    for job in old_first:
        if job.key == keep or job.status().state == "working":
            continue
        if now - _touched(job) > KEPT_DAYS * 86400 or total > MOST_KEPT_BYTES:
            total -= _size(job)
            shutil.rmtree(job.folder, ignore_errors=True)
    for session in (work / "sessions").glob("*"):
        if now - session.stat().st_mtime > KEPT_DAYS * 86400:
            session.unlink(missing_ok=True)


def _touched(job: Job) -> float:
    return max((path.stat().st_mtime for path in job.folder.glob("*") if path.exists()), default=0.0)


def _size(job: Job) -> int:
    return sum(path.stat().st_size for path in job.folder.rglob("*") if path.is_file())
