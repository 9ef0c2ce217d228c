"""Another distribution's package of the same plain name is found out before it does harm."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from dashboards.command_line.own_packages import mixed_up

ROOT = Path(__file__).parents[3]


def test_our_own_packages_are_ours():
    assert mixed_up() == ""


def test_another_home_is_not_ours(tmp_path):
    told = mixed_up(home=tmp_path)

    assert "'ingest'" in told and "virtual environment" in told


def test_a_foreign_monitor_ends_the_program_with_a_sentence(tmp_path):
    (tmp_path / "monitor").mkdir()
    (tmp_path / "monitor" / "__init__.py").write_text("raise RuntimeError('foreign code ran')")
    code = (
        f"import sys; sys.path[:0] = [{str(tmp_path)!r}, {str(ROOT)!r}]\n"
        "from dashboards.command_line import main\nsys.argv = ['evenmelt', 'conditions']\nmain()"
    )

    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, timeout=60)

    assert done.returncode == 2
    assert "'monitor'" in done.stderr and "virtual environment" in done.stderr
    assert "foreign code ran" not in done.stderr and "Traceback" not in done.stderr
