"""Are `ingest`, `monitor` and `sample_logs` the ones that came with these dashboards?

Their names are plain words that another distribution may use too. In one environment the last one installed
wins, and this program would run half of each.
"""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

PACKAGES = ("ingest", "monitor", "sample_logs")


def mixed_up(home: Path | None = None) -> str:
    """A sentence that says what is wrong, '' when all is well. home: the folder all packages should lie in."""
    home = home or Path(__file__).resolve().parents[2]
    for name in PACKAGES:
        spec = find_spec(name)
        places = list(spec.submodule_search_locations or []) if spec else []
        if not places:
            return f"The package '{name}' of Evenmelt is missing. Install Evenmelt again, {_OWN}"
        if Path(places[0]).resolve().parent != home:
            return (
                f"The package '{name}' that Python finds is not the one of Evenmelt but another of that name, in "
                f"{places[0]}. Install Evenmelt {_OWN}"
            )
    return ""


_OWN = "in an own virtual environment: python -m venv evenmelt-env, then install it there."
