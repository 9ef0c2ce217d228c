"""What the project keeps to everywhere: who imports whom, what loads when, sizes, words, documentation, layout."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import monitor

ROOT = Path(monitor.__file__).parent.parent
PACKAGES = ("ingest", "monitor", "dashboards", "sample_logs")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "tests", *PACKAGES}
BUILT = {"build", "dist", "__pycache__"}
MOST_LINES = 400
TEXTS = {".py", ".toml", ".md", ".css", ".js", ".yml", ".yaml", ".txt", ".cfg", ".svg", ".html"}
HEAVY = ("dash", "plotly", "pandas", "scipy", "sklearn", "matplotlib")

# Put together from pieces, else this file would be the first to break its own rule.
FORBIDDEN = (
    "py" + "pi.",
    "python" + "hosted",
    "ana" + "conda",
    "conda" + "-forge",
    "npm" + "js",
    "/" + "work/",
    "/" + "opt/",
    "sha" + "red/",
)


def files(*suffixes: str, under: tuple[str, ...] = (*PACKAGES, "tests")) -> Iterator[Path]:
    """Files of the project by suffix, without caches."""
    for folder in under:
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in suffixes and path.is_file() and not BUILT & set(path.parts):
                yield path


def run(code: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Python code in a fresh process at the root."""
    return subprocess.run(
        [sys.executable, "-c", code, *arguments], cwd=ROOT, capture_output=True, text=True, encoding="utf-8"
    )


def test_who_imports_whom() -> None:
    """The contracts in pyproject.toml: dashboards -> monitor -> ingest, and detection apart from the simulator."""
    code = "import sys; from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = run(code, "--no-cache", "--no-logo", "pyproject.toml")

    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout and "3 kept" in done.stdout


@pytest.mark.parametrize(
    "module",
    ["ingest", "monitor", "monitor.core", "ingest.read_log", "monitor.live", "dashboards", "dashboards.command_line"],
)
def test_nothing_heavy_is_loaded_before_it_is_needed(module: str) -> None:
    done = run(f"import sys, {module}; print(*[name for name in {HEAVY} if name in sys.modules])")

    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == []


@pytest.mark.parametrize("arguments", [["--help"], ["check", "--help"], ["conditions", "--help"]], ids=" ".join)
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    code = (
        "import sys\n"
        "from dashboards.command_line import main\n"
        f"sys.argv = ['evenmelt', *{arguments}]\n"
        "try: main()\n"
        "except SystemExit as end: assert not end.code, end.code\n"
        f"print(*[name for name in {HEAVY} if name in sys.modules], file=sys.stderr)\n"
    )
    done = run(code)

    assert done.returncode == 0, done.stderr
    assert "Usage: evenmelt" in done.stdout
    assert done.stderr.split() == []


@pytest.mark.parametrize("package", ["ingest", "monitor"])
def test_the_package_itself_loads_next_to_nothing(package: str) -> None:
    wanted = ("numpy", "pyarrow", "pydantic", "sqlalchemy", "typer", "rich")
    done = run(f"import sys, {package}; print(*[name for name in {wanted} if name in sys.modules])")

    assert done.stdout.split() == []


def undocumented(path: Path) -> Iterator[str]:
    """Public modules, classes, functions and methods without a docstring; methods of a protocol go by its own."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    if tree.body and not ast.get_docstring(tree):
        yield "the module"
    for node in tree.body:
        if not isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)) or node.name.startswith("_"):
            continue
        if not ast.get_docstring(node):
            yield node.name
        kept_elsewhere = "Protocol" in {ast.unparse(base) for base in getattr(node, "bases", [])}
        if isinstance(node, ast.ClassDef) and path.parts[-2] in ("ingest", "monitor") and not kept_elsewhere:
            for part in node.body:
                if isinstance(part, ast.FunctionDef) and part.name[0] != "_" and not ast.get_docstring(part):
                    yield f"{node.name}.{part.name}"


@pytest.mark.parametrize("package", PACKAGES)
def test_everything_public_is_documented(package: str) -> None:
    found = [
        f"{path.relative_to(ROOT)}: {name}" for path in files(".py", under=(package,)) for name in undocumented(path)
    ]

    assert found == []


def test_files_stay_small() -> None:
    sizes = {str(p.relative_to(ROOT)): len(p.read_text(encoding="utf-8").splitlines()) for p in files(".py")}

    assert len(sizes) > 200
    assert {name: size for name, size in sizes.items() if size > MOST_LINES} == {}


def test_no_file_is_named_for_odds_and_ends() -> None:
    names = {path.stem for path in files(".py")}

    assert {name for name in names if name.endswith(("utils", "util", "helpers", "helper", "misc"))} == set()


def test_no_word_that_belongs_to_one_machine_or_registry() -> None:
    found = [
        f"{path.relative_to(ROOT)}: {word}"
        for path in [*files(*TEXTS), *(ROOT / name for name in ("README.md", "DEVELOPERS.md", "pyproject.toml"))]
        for word in FORBIDDEN
        if word in path.read_text(encoding="utf-8").lower()
    ]

    assert found == []


def test_the_top_level_is_as_agreed() -> None:
    there = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}

    assert {name for name in there - BUILT if not name.endswith(".egg-info")} == TOP_LEVEL


def test_nothing_happens_by_chance_or_by_the_clock_where_it_is_judged() -> None:
    """The wall clock belongs to the live service and the pages; randomness to the simulator."""
    clocked = {"monitor/live_clock.py", "monitor/journal/journal.py"}  # when a tick came and when it was written
    found = []
    for path in files(".py", under=("ingest", "monitor")):
        name = path.relative_to(ROOT).as_posix()
        tree = ast.parse(path.read_text(encoding="utf-8"))
        calls = {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
        modules = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
        bad = calls & {"datetime.now", "datetime.datetime.now", "dt.datetime.now", "time.time", "time.time_ns"}
        bad |= modules & {"random", "secrets", "uuid"}
        if bad and name not in clocked:
            found.append((name, sorted(bad)))
    assert found == []
