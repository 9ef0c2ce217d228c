"""Colours of charts, taken from `assets/marks.css`: one truth for drawings, charts and pages."""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass
from importlib.resources import files


@dataclass(frozen=True)
class Look:
    """Colours by the names they have in marks.css, without the dashes."""

    name: str
    paper: str
    sheet: str
    ink: str
    soft: str
    line: str
    faint: str
    band: str
    band_outer: str
    metal: str
    under: str
    under_pale: str
    over: str
    over_pale: str
    other: str
    other_pale: str


@functools.cache
def look(name: str) -> Look:
    """The 'light' or the 'dark' look; anything else is light."""
    text = files("dashboards").joinpath("assets/marks.css").read_text(encoding="utf-8")
    selector = r':root\[data-theme="dark"\]' if name == "dark" else r":root"
    block = re.search(selector + r"\s*\{([^}]*)\}", text)
    if block is None:
        raise ValueError(f"marks.css has no colours for the {name} look")
    colours = dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6})", block.group(1)))
    return Look(
        "dark" if name == "dark" else "light",
        **{key.replace("-", "_"): value for key, value in colours.items()},
    )


def standalone(svg: str, name: str = "light") -> str:
    """A drawing that carries its own colours, for reports and pictures outside a page."""
    colours = look(name)
    rules = files("dashboards").joinpath("assets/marks.css").read_text(encoding="utf-8")
    rules = re.sub(r"/\*.*?\*/", "", rules, flags=re.S)
    rules = rules[rules.index(".drawing {") :]
    rules = re.sub(r"var\(--([a-z-]+)\)", lambda found: getattr(colours, found.group(1).replace("-", "_")), rules)
    head, _, rest = svg.partition(">")
    ground = f'<rect width="100%" height="100%" style="fill:{colours.paper}"/>'
    return f"{head}><style>{rules}</style>{ground}{rest}"
