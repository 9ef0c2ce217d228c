"""Figures know no Dash; importing pages does nothing; nothing is fetched."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import dashboards

ROOT = Path(dashboards.__file__).parent


def test_figures_import_no_dash() -> None:
    code = (
        "import importlib, pkgutil, sys, dashboards.figures as f\n"
        "for m in pkgutil.iter_modules(f.__path__): importlib.import_module('dashboards.figures.' + m.name)\n"
        "assert 'dash' not in sys.modules, 'dash'\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT.parent)


def test_importing_pages_registers_nothing() -> None:
    code = (
        "import dashboards.app, dash._callback as c\nassert not c.GLOBAL_CALLBACK_LIST and not c.GLOBAL_CALLBACK_MAP\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT.parent)


def test_assets_point_nowhere_else() -> None:
    for path in (ROOT / "assets").iterdir():
        text = path.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert "http:" not in text and "https:" not in text and "@import" not in text, path.name


def test_files_stay_small() -> None:
    for path in ROOT.rglob("*.py"):
        if "command_line" not in path.parts:
            assert len(path.read_text(encoding="utf-8").splitlines()) <= 300, path.name
