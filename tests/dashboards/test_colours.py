"""The colours that say 'look here' are told from the paper and from each other, by every kind of eye, light and dark.

They never stand alone (a shape and a word stand beside each), so this is what is asked on top of that.
"""

from __future__ import annotations

import itertools
import re
from importlib.resources import files

import numpy as np
import pytest

from tests.dashboards.colour_sight import SIGHTS, contrast, lab, seen

LOOKS = ("under", "over", "other")
GRAPHICS = 3.0
"""Contrast of graphical objects, WCAG 2.2, 1.4.11 (AA)."""
TEXT = 4.5
"""Contrast of text, WCAG 2.2, 1.4.3 (AA)."""
APART = 20.0
"""CIE 1976 colour difference; 2.3 is just noticeable side by side (Mahy et al. 1994, from memory), several times that
at a distance: common practice, no source."""


def palette(theme: str) -> dict[str, np.ndarray]:
    """Colours of marks.css by name, sRGB 0 to 1."""
    text = files("dashboards").joinpath("assets/marks.css").read_text(encoding="utf-8")
    start = text.index(":root {") if theme == "light" else text.index(':root[data-theme="dark"]')
    block = text[start : text.index("}", start)]
    return {
        name: np.array([int(code[i : i + 2], 16) / 255 for i in (0, 2, 4)])
        for name, code in re.findall(r"--([a-z-]+): #([0-9a-f]{6});", block)
    }


def eyes(colour: np.ndarray, sight: str) -> np.ndarray:
    return colour if sight == "usual" else seen(colour, sight)


@pytest.mark.parametrize("sight", ["usual", *SIGHTS])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_told_from_the_paper(theme: str, sight: str) -> None:
    colours = palette(theme)
    for look, ground in itertools.product(LOOKS, ("paper", "sheet", "band", "band-outer")):
        found = contrast(eyes(colours[look], sight), eyes(colours[ground], sight))
        assert found >= (TEXT if ground == "paper" else GRAPHICS), (look, ground, round(found, 2))


@pytest.mark.parametrize("sight", ["usual", *SIGHTS])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_under_and_over_are_told_apart(theme: str, sight: str) -> None:
    """They share a map, the pale of one beside the pale of the other."""
    colours = palette(theme)
    for a, b in (("under", "over"), ("under-pale", "over-pale")):
        apart = float(np.linalg.norm(lab(eyes(colours[a], sight)) - lab(eyes(colours[b], sight))))
        assert apart >= APART, (a, b, round(apart, 1))


def test_a_matrix_keeps_grey_grey() -> None:
    grey = np.linspace(0, 1, 11)[:, None] * np.ones(3)
    for sight in SIGHTS:
        assert np.allclose(seen(grey, sight), grey, atol=0.01)
