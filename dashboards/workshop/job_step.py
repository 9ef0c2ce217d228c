"""The process that does the long work of a job: proposes, reads through, checks, or keeps the demo running.

    python -m dashboards.workshop.job_step FOLDER propose
    python -m dashboards.workshop.job_step FOLDER check DATA_FOLDER
    python -m dashboards.workshop.job_step FOLDER demo

It tells how far it is in the job's folder, and ends when it is asked to or when the folder is gone.
"""

from __future__ import annotations

import _thread
import os
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path

from dashboards.workshop.job import Job, Status

BEAT_S = 1.0
ENDING_S = 15.0
MOST_READ_THROUGH_BYTES = 256 << 20
"""Of a longer log the account is made when it is checked, not before."""

OWN_MISTAKE = "own mistake"


def run(folder: Path, step: str, arguments: Sequence[str]) -> None:
    """Runs a step to its end, whatever comes, and says what came of it."""
    job, ended = Job(folder), threading.Event()
    threading.Thread(target=_beat, args=(job, ended), name="beat", daemon=True).start()
    try:
        STEPS[step](job, arguments)
        job.tell(Status(step, "done"))
    except KeyboardInterrupt:
        job.tell(Status(step, "failed", said="stopped"))
    except Exception as error:
        from dashboards.command_line.endings import bad_input_message

        message = bad_input_message(error)
        if not message:
            traceback.print_exc()
        job.tell(Status(step, "failed", said=_said(job, message) or f"{OWN_MISTAKE} {error!r}"))
    finally:
        ended.set()


def _said(job: Job, message: str) -> str:
    """Without the folders of the job, which are no business of anybody."""
    for path in job.paths:
        message = message.replace(str(path), path.name)
    return message.replace(f"{job.folder}/", "")


def _beat(job: Job, ended: threading.Event) -> None:
    """A sign of life every second; ends the step when a person asks for it, or when its folder is gone."""
    while not ended.wait(BEAT_S):
        if not job.folder.exists() or (job.folder / "stop").exists():
            with suppress(OSError):
                (job.folder / "stop").unlink(missing_ok=True)
            _interrupt()
            if not ended.wait(ENDING_S):
                # It hangs where nothing interrupts it; what was half done is undone by the next check.
                with suppress(OSError):
                    job.tell(Status(job.status().step, "failed", said="stopped"))
                os._exit(1)
            return
        with suppress(OSError):
            (job.folder / "alive").touch(exist_ok=True)


def _interrupt() -> None:
    """Raises KeyboardInterrupt in the main thread, also where it waits for a disk or a pipe."""
    main = threading.main_thread().ident
    if hasattr(signal, "pthread_kill") and main is not None:
        signal.pthread_kill(main, signal.SIGINT)
    else:
        _thread.interrupt_main()


def _propose(job: Job, _arguments: Sequence[str]) -> None:
    from dashboards.workshop.proposal_json import as_json, preview
    from ingest.propose import propose

    proposal = propose(job.paths)
    values = [line.line_value for line in proposal.lines] or [""]
    job.write("preview.json", preview(job.paths, values))
    job.write("proposal.json", as_json(proposal))
    if sum(path.stat().st_size for path in job.paths if path.is_file()) <= MOST_READ_THROUGH_BYTES:
        job.write("account.json", _accounts(job))


def _accounts(job: Job) -> dict:
    """The reading account of every line as it is proposed. A log that only the proposal can read has none."""
    from dashboards.workshop.chosen import corrected, texts_of
    from dashboards.workshop.settings_text import judged
    from ingest.account import ReadingAccount
    from ingest.errors import BadLog
    from ingest.read_log import read_blocks

    accounts = {}
    for number, text in enumerate(texts_of(corrected(job))):
        line = judged(text).line
        if line is None:
            continue
        account = ReadingAccount()
        try:
            for _ in read_blocks(job.paths, line.mapping(), account, progress=_progress(job, "propose")):
                pass
            accounts[str(number)] = account.as_dict()
        except BadLog as error:
            accounts[str(number)] = {"problem": _said(job, str(error))}
    return accounts


def _check(job: Job, arguments: Sequence[str]) -> None:
    from dashboards.command_line.check_log import check_logs
    from dashboards.command_line.settings_given import read_settings

    lines = sorted((job.folder / "check").glob("line-*.toml"))
    recipes = sorted((job.folder / "check").glob("recipe-*.toml"))
    schedule = job.folder / "check" / "schedule.csv"
    settings = read_settings(lines, recipes, schedule if schedule.exists() else None)
    checked = check_logs(job.paths, settings, job.folder / "result", journal_in=Path(arguments[0]), shown=_shown(job))
    job.write(
        "result.json",
        {
            "lines": [
                {
                    "line": one.line.name,
                    "findings": len([f for f in one.findings if f.last.priority < 4 and not f.last.part_of]),
                    "lots": len({lot.lot for lot in one.book.lots}),
                }
                for one in checked
            ]
        },
    )


def _progress(job: Job, step: str) -> Callable[[int, int], None]:
    told = [0.0]

    def progress(done: int, total: int) -> None:
        if time.monotonic() - told[0] > 0.5:
            told[0] = time.monotonic()
            job.tell(Status(step, "working", done, total))

    return progress


def _shown(job: Job) -> Callable[[str], AbstractContextManager[Callable[[int, int], None]]]:
    @contextmanager
    def shown(_what: str) -> Iterator[Callable[[int, int], None]]:
        yield _progress(job, "check")

    return shown


def _demo(job: Job, _arguments: Sequence[str]) -> None:
    """The demo in a process of its own, for as long as the server that started this one lives."""
    from dashboards.workshop.demo_beside import keep_demo

    keep_demo(job)


STEPS: dict[str, Callable[[Job, Sequence[str]], None]] = {"propose": _propose, "check": _check, "demo": _demo}


if __name__ == "__main__":
    # Started from the background of a shell, interrupts would be ignored.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    run(Path(sys.argv[1]), sys.argv[2], sys.argv[3:])
