"""Small records as JSON with a seal, so that one that was cut off is known and does not count."""

from __future__ import annotations

import hashlib
import json
from typing import Any


def sealed(record: dict[str, Any]) -> bytes:
    """The record as two lines: its seal and its JSON."""
    body = json.dumps(record, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()
    return hashlib.sha256(body).hexdigest().encode() + b"\n" + body + b"\n"


def unsealed(data: bytes) -> dict[str, Any] | None:
    """The record, None where it is not whole."""
    seal, _, body = data.partition(b"\n")
    body = body.removesuffix(b"\n")
    if hashlib.sha256(body).hexdigest().encode() != seal:
        return None
    return json.loads(body)
