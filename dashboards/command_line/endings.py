"""How a verb ends: 0 clean, 1 findings, 2 bad input, 3 a mistake in Evenmelt itself. Never with a traceback."""

from __future__ import annotations

import signal
import sys
import tempfile
import traceback
from collections.abc import Callable

CLEAN, FINDINGS, BAD_INPUT, OWN_MISTAKE, INTERRUPTED = 0, 1, 2, 3, 130


def ended_well(run: Callable[[], object]) -> int:
    """Run a command line to its end and say its exit code; errors are told on stderr in words."""
    # The option parser would turn an interrupt into code 1, which means findings.
    signal.signal(signal.SIGINT, lambda *_: sys.exit(INTERRUPTED))
    try:
        run()
    except SystemExit as ended:
        return _code(ended)
    except Exception as error:
        return _told(error)
    return CLEAN


def _code(ended: SystemExit) -> int:
    if ended.code is None:
        return CLEAN
    if isinstance(ended.code, int):
        return ended.code
    print(ended.code, file=sys.stderr)
    return BAD_INPUT


def _told(error: Exception) -> int:
    message = bad_input_message(error)
    if message:
        print(message, file=sys.stderr)
        return BAD_INPUT
    with tempfile.NamedTemporaryFile("w", prefix="evenmelt-", suffix=".txt", delete=False, encoding="utf-8") as file:
        file.write("".join(traceback.format_exception(error)))
    print(
        f"Evenmelt failed: {type(error).__name__}: {error}\n"
        f"This is a mistake in Evenmelt, not in your files. Please report it with {file.name}.",
        file=sys.stderr,
    )
    return OWN_MISTAKE


def bad_input_message(error: Exception) -> str:
    """What to tell about an error that the person's files or folders cause; '' for any other error."""
    if isinstance(error, MemoryError):
        return "There is not enough memory for this. Close other programs, or check fewer lines at once."
    if isinstance(error, OSError):
        where = f"{error.filename}: " if error.filename else ""
        return f"{where}{(error.strerror or str(error)).lower()}. Check the path, its permissions and the free space."
    names = {(kind.__module__, kind.__name__) for kind in type(error).__mro__}
    # Compared by name, so that a mistyped option does not load the database and Parquet libraries.
    known = {
        ("ingest.errors", "BadLog"), ("monitor.settings_file", "SettingsError"),
        ("monitor.journal.errors", "JournalError"), ("monitor.live", "CannotGoOn"),
        ("dashboards.command_line.told", "Told"),
    }  # fmt: skip
    if names & known:
        return str(error)
    if ("pyarrow.lib", "ArrowException") in names:
        first = (str(error).splitlines() or [""])[0]
        return f"The log cannot be read as CSV or Parquet: {first} Export it again."
    if ("sqlalchemy.exc", "DBAPIError") in names:
        return f"The journal cannot be used: {getattr(error, 'orig', error)}. Check the folder and the free space."
    return ""
