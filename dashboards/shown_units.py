"""In which units and in which manner of writing a reader wants numbers, dates and hours.

Inside, everything keeps the fixed unit of its role. What is chosen here acts only where text or a drawing is made.
"""

from __future__ import annotations

import functools
import re
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np

LB_PER_KG = 1 / 0.45359237
"""Avoirdupois pound, exact: NIST SP 811 (2008), Appendix B.8, 'pound (avoirdupois)'."""

PSI_PER_BAR = 1e5 * 0.0254**2 / (0.45359237 * 9.80665)
"""Pound-force per square inch, from the exact inch, pound and standard gravity: NIST SP 811 (2008), Appendix B.8."""

F_PER_C, F_AT_ZERO_C = 1.8, 32.0
"""NIST SP 811 (2008), Appendix B.8, 'degree Fahrenheit'."""

CHOICES: dict[str, tuple[str, ...]] = {
    "temperature": ("C", "F"),
    "pressure": ("bar", "psi"),
    "mass": ("kg", "lb"),
    "mark": ("point", "comma"),
    "hours": ("24", "12"),
    "date": ("day", "month"),
}
"""What can be chosen, the first of each being what holds without a choice."""

_Value = TypeVar("_Value", float, "np.ndarray")


@dataclass(frozen=True)
class Choice:
    """One reader's choice; fields and values as in `CHOICES`.

    mark: decimal mark. hours: 24 or 12 hours on the clock. date: the day or the month first.
    """

    temperature: str = "C"
    pressure: str = "bar"
    mass: str = "kg"
    mark: str = "point"
    hours: str = "24"
    date: str = "day"

    def as_text(self) -> str:
        """The choice as it is kept in a cookie: 'F.psi.lb.comma.12.month'."""
        return ".".join(getattr(self, name) for name in CHOICES)

    @staticmethod
    def from_text(text: str | None) -> Choice:
        """The choice a cookie keeps; whatever is not known holds as without a choice."""
        said = (text or "").split(".")
        found = {name: next((word for word in said if word in words), words[0]) for name, words in CHOICES.items()}
        return Choice(**found)


AS_INSIDE = Choice()
chosen: ContextVar[Choice] = ContextVar("chosen_units", default=AS_INSIDE)
"""Choice of the reader whose request is being answered."""


@functools.cache
def _turned(unit: str, choice: Choice) -> tuple[float, str]:
    """Factor and name of the shown unit for a fixed unit such as 'C', 'bar/h', 'kg/h/rpm'."""
    if "/m3" in unit or "/l" in unit:
        return 1.0, unit
    factor, parts = 1.0, []
    below = False
    for part in re.split(r"([/ ])", unit):
        if part in ("/", " "):
            below = part == "/"
        new, by = part, 1.0
        if part == "C" and choice.temperature == "F":
            new, by = "F", F_PER_C
        elif part == "bar" and choice.pressure == "psi":
            new, by = "psi", PSI_PER_BAR
        elif part == "kg" and choice.mass == "lb":
            new, by = "lb", LB_PER_KG
        factor = factor / by if below else factor * by
        parts.append(new)
    return factor, "".join(parts)


def shown_unit(unit: str) -> str:
    """The unit shown in place of a fixed one, as people write it: '°F', 'psi/h', 'lb/h'."""
    _, name = _turned(unit, chosen.get())
    return re.sub(r"^([CF])(?=$|[ /])", r"°\1", name)


def shown_value(value: _Value, unit: str) -> _Value:
    """A reading given in a fixed unit, in the shown one."""
    factor, name = _turned(unit, chosen.get())
    if unit == "C" and name == "F":
        return value * factor + F_AT_ZERO_C
    return value if factor == 1.0 else value * factor


def shown_difference(value: _Value, unit: str) -> _Value:
    """A difference given in a fixed unit, in the shown one: 10 of C are 18 of F."""
    factor, _ = _turned(unit, chosen.get())
    return value if factor == 1.0 else value * factor


def marked(text: str) -> str:
    """A number written with a decimal point, with the reader's decimal mark."""
    return text.replace(".", ",") if chosen.get().mark == "comma" else text


def parted(number: int) -> str:
    """A whole number with its thousands parted: by commas, or by narrow spaces where the comma is the decimal mark."""
    text = f"{number:,}"
    return text if chosen.get().mark == "point" else text.replace(",", "\u202f")
