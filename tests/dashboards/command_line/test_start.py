"""The command line answers at once: nothing heavy is loaded before a verb needs it."""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
HEAVY = (
    "numpy", "pandas", "pyarrow", "scipy", "sklearn", "sqlalchemy", "dash", "plotly", "flask", "rich", "waitress",
    "monitor.line", "monitor.core", "ingest.read_log", "sample_logs.simulate",
)  # fmt: skip
"""Not pydantic: the option parser looks at it by itself when it is installed."""


def run(*words: str) -> subprocess.CompletedProcess:
    return subprocess.run([sys.executable, *words], cwd=ROOT, capture_output=True, text=True, timeout=60)


VERBS = ("check", "coverage", "demo", "import", "learn", "map", "report", "serve", "watch")


@pytest.mark.parametrize("words", [["--help"], *([verb, "--help"] for verb in VERBS), []])
def test_help_loads_nothing_heavy(words):
    code = (
        f"import sys; sys.argv = ['evenmelt', *{words!r}]\n"
        "from dashboards.command_line import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        f"print('LOADED', *sorted(set(sys.modules) & set({HEAVY!r})))"
    )
    done = run("-c", code)

    assert "Usage:" in done.stdout + done.stderr
    assert done.stdout.splitlines()[-1] == "LOADED"


def test_help_costs_no_more_than_a_few_bare_starts():
    """0.3 s is wanted where a bare start of Python takes 0.02 s: 15 bare starts.

    Counted in processor time, which another program on the same computer does not lengthen. Best of five each.
    """

    def seconds(*words: str) -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        run(*words)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    times = [(seconds("-c", "pass"), seconds("-m", "dashboards.command_line", "--help")) for _ in range(5)]

    assert min(full for _, full in times) < 15 * min(bare for bare, _ in times)


def test_every_verb_is_listed_and_explains_itself():
    listed = run("-m", "dashboards.command_line", "--help").stdout

    for verb in ("check", "demo", "serve", "watch", "conditions"):
        assert f"\n  {verb} " in listed
        text = run("-m", "dashboards.command_line", verb, "--help")
        assert text.returncode == 0 and len(text.stdout.splitlines()) > 4


def test_a_wrong_option_is_bad_input():
    done = run("-m", "dashboards.command_line", "check", "a.csv", "--lime", "x")

    assert done.returncode == 2
    assert "--lime" in done.stderr and "Traceback" not in done.stderr
