"""Every sentence with a measured unit that the monitor's own source can say, with invented numbers in it."""

from __future__ import annotations

import ast
import re
from importlib.resources import files
from pathlib import Path

_SPEAKS = re.compile(r"\d ?°?(?:C\b|bar\b|kg\b)")


def _filled(node: ast.JoinedStr) -> str:
    """The f-string with a number wherever a number is formatted, a plain word elsewhere."""
    parts = []
    for i, piece in enumerate(node.values):
        if isinstance(piece, ast.Constant):
            parts.append(str(piece.value))
        elif isinstance(piece, ast.FormattedValue):
            spec = ast.unparse(piece.format_spec)[2:-1] if piece.format_spec else ""
            spec = ".1f" if "{" in spec else spec
            number = 180.0 + 1.75 * i
            if "shown_unit" in ast.unparse(piece.value):
                parts.append("°C")
            else:
                parts.append(format(number, spec) if spec.endswith(("f", "g")) else "Z4")
    return "".join(parts)


def monitor_sentences() -> list[str]:
    """Sentences found in the source of monitor, sorted."""
    root = Path(str(files("monitor")))
    found = set()
    for path in sorted([*root.glob("*.py"), *root.glob("conditions/*.py")]):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            text = _filled(node) if isinstance(node, ast.JoinedStr) else ""
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and len(node.value) < 400:
                text = node.value
            if _SPEAKS.search(text) and "\n" not in text:
                found.add(text)
    return sorted(found)
