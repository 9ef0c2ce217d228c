"""Sheets of workbooks that do not stream: the old binary kind (MS-XLS), the newer one (MS-XLSB), open documents (ODF).

They are read whole, by python-calamine in a process of its own whose memory is bounded: the sheets of such a file
are laid out in memory as the file says they are large, and a damaged or malicious one may say anything.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from ingest.errors import BadLog
from ingest.log_file import LogFile
from ingest.workbook import damaged_workbook, refuse_bombs
from ingest.zip_members import TemporaryFolder

LONGEST_S = 300.0
"""For one workbook; a full sheet of the old kind, 65,536 rows of 256 cells, takes half a minute."""

_CHILD = "import sys; sys.path.append(sys.argv[1]); from ingest.sheets_apart import main; main(*sys.argv[2:])"
_TOO_LARGE = "Save it as CSV or Parquet, or as several smaller workbooks."


def other_sheets(file: LogFile, kind: str) -> list[LogFile]:
    """The sheets of a workbook in their order, as texts in a temporary folder; charts left out. Raises BadLog.

    kind: 'xls' for whatever is a compound file, 'xlsb', 'ods'.
    """
    if kind != "xls":
        refuse_bombs(file)
    folder = TemporaryFolder()
    code = [sys.executable, "-P", "-c", _CHILD, str(Path(__file__).parents[1]), str(file.on_disk), str(folder.path)]
    code += [".xls", ".xlsx"] if kind == "xls" else [f".{kind}"]  # with a password a newer one is a compound file too
    try:
        done = subprocess.run(code, capture_output=True, timeout=LONGEST_S, check=False)
    except subprocess.TimeoutExpired:
        raise BadLog(file.name, f"workbook takes longer than {LONGEST_S:.0f} s to read", hint=_TOO_LARGE) from None
    titles = _titles(file, done)
    return [
        LogFile(
            file.path,
            (folder.path / str(i)).stat().st_size,
            inside=f"{file.inside}: sheet {title}" if file.inside else f"sheet {title}",
            kind="workbook",
            constants=file.constants,
            keep=(folder, file.keep),
            copy=folder.path / str(i),
        )
        for i, title in enumerate(titles)
    ]


def _titles(file: LogFile, done: subprocess.CompletedProcess[bytes]) -> list[str]:
    """What the process says; raises BadLog for what it could not do, and for its death."""
    said: dict[str, Any]
    try:
        said = json.loads(done.stdout)
    except ValueError:
        said = {"memory": True} if b"memory" in done.stderr else {"damaged": "its parts do not fit together"}
    if "titles" in said:
        return said["titles"]
    if "password" in said:
        hint = "Open it, save it without one, and read that."
        raise BadLog(file.name, "workbook is protected by a password", hint=hint)
    if "memory" in said:
        raise BadLog(file.name, "workbook says it is larger than any that can be read", hint=_TOO_LARGE)
    raise damaged_workbook(file.name, ValueError(said["damaged"]))
