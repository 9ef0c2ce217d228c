"""Every scripted world by name. Together they make every registered condition speak.

A group of conditions keeps its worlds in a module of its own beside this one and lists them here. Worlds are short:
three hours do for most, and every check runs over them many times.
"""

from __future__ import annotations

from collections.abc import Callable

from tests.monitor.scripted_world import World, eventful_single, eventful_twin

WORLDS: dict[str, Callable[[], World]] = {
    "twin": eventful_twin,
    "single": eventful_single,
}
