"""The invented compounding plant: simulator with labelled faults, and small logs with their truth."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

__all__ = ["sample_names", "sample_path"]


def sample_path(name: str) -> Path:
    """Path of a sample log's folder ('twin_clean') or of a file in it ('twin_clean/line.toml').

    Raises FileNotFoundError with the names there are.
    """
    path = Path(str(resources.files(__name__))) / "logs" / name
    if not path.exists():
        raise FileNotFoundError(f"no sample log '{name}'; there are {', '.join(sample_names())}")
    return path


def sample_names() -> tuple[str, ...]:
    """Names of the sample logs."""
    folder = Path(str(resources.files(__name__))) / "logs"
    return tuple(sorted(item.name for item in folder.iterdir() if item.is_dir()))
