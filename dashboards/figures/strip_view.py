"""What the barrel strip shows, and where on the sheet things stand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from dashboards.machine import Machine, place_machine
from dashboards.names import channel_title, figure, unit_of, with_unit
from dashboards.texts import say
from dashboards.windows import Place, place_of, position, sign_of
from ingest.roles import channel_key
from monitor.line import Line
from monitor.recipe import Window


@dataclass(frozen=True)
class StripView:
    """One line at one moment.

    readings: channel -> value; a channel that is not in it has no reading now. flags: channel -> priority of
    an open finding about it. touched: the channel whose chart is shown. worst: the one that the page's word is about.
    """

    line: Line
    readings: Mapping[str, float]
    windows: Mapping[str, Window]
    flags: Mapping[str, int] = field(default_factory=dict)
    touched: str = ""
    judged: bool = True
    worst: str = ""

    @cached_property
    def machine(self) -> Machine:
        """The machine as placed."""
        return place_machine(self.line)

    def value(self, role: str, subject: str = "") -> float | None:
        """Newest reading, None if there is none."""
        return self.readings.get(channel_key(role, subject))

    def logged(self, role: str, subject: str = "") -> bool:
        """Whether the line has that channel at all."""
        return channel_key(role, subject) in self.line.channels

    def place(self, key: str) -> Place:
        """Where the reading stands in its window; 'no window' too while windows are not judged."""
        place = place_of(self.readings.get(key), self.windows.get(key))
        return place if self.judged or place == "no reading" else "no window"

    def offset(self, key: str) -> float | None:
        """Position in the window as a number, see `windows.position`; None where it has none."""
        value, window = self.readings.get(key), self.windows.get(key)
        return None if value is None or window is None else float(position(value, window))

    def look(self, key: str) -> str:
        """CSS class of a mark for this channel."""
        place = self.place(key)
        sign = sign_of(place)
        if sign:
            return ("under" if sign < 0 else "over") + (" far" if place.startswith("far") else "")
        if place == "no reading":
            return "none"
        return "other" if key in self.flags else "calm"

    def label(self, key: str) -> str:
        """The channel said aloud: name, reading, place in its window."""
        text = with_unit(figure(self.readings.get(key), key, self.line), unit_of(self.line, key))
        return f"{channel_title(self.line, key)} {text}, {say('place.' + self.place(key))}"


@dataclass(frozen=True)
class Sheet:
    """Measures of a drawing `width` pixels wide. Lanes start at `left`, under the page's own left rule."""

    width: float

    @property
    def narrow(self) -> bool:
        """Whether it is drawn for a tablet."""
        return self.width < 1000

    @property
    def left(self) -> float:
        """Where the throat is drawn."""
        return 104 if self.narrow else 148

    @property
    def right(self) -> float:
        """Where the die face is drawn."""
        return self.width - (72 if self.narrow else 104)

    def x(self, place: float) -> float:
        """Pixel of a place along the machine."""
        return self.left + place * (self.right - self.left)
