"""pyarrow's compute functions. They are made when the module is loaded, so a type checker cannot know them."""

from __future__ import annotations

from typing import Any

import pyarrow.compute

pc: Any = pyarrow.compute
