"""A reference as a JSON file: to be read by people, and refused with a sentence where it cannot be used."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
from pathlib import Path
from typing import Any

import numpy as np

from monitor.reference.model import Feature, Normal, Reference, Together
from monitor.settings_file import SettingsError

FORMAT = 1
WHAT = (
    "Reference of a line: what is normal under a recipe, as a function of what was asked for. Made by 'evenmelt learn'."
)


def as_dict(reference: Reference) -> dict[str, Any]:
    """Plain values, in an order to read."""
    made = dataclasses.asdict(dataclasses.replace(reference, version=""))
    made.pop("version")
    if reference.together is not None:
        made["together"]["loadings"] = reference.together.loadings.tolist()
        made["together"]["variances"] = reference.together.variances.tolist()
    return {"what": WHAT, "format": FORMAT, **made}


def with_version(reference: Reference) -> Reference:
    """The reference with the hash of its content as its version."""
    text = json.dumps(as_dict(reference), sort_keys=True, ensure_ascii=False)
    return dataclasses.replace(reference, version=hashlib.sha256(text.encode()).hexdigest()[:12])


def write_reference(path: Path, reference: Reference) -> None:
    """Write it whole or not at all."""
    text = json.dumps({**as_dict(reference), "version": with_version(reference).version}, indent=1, ensure_ascii=False)
    draft = path.with_name(path.name + ".part")
    draft.write_text(text + "\n", encoding="utf-8")
    os.replace(draft, path)


def read_reference(path: Path) -> Reference:
    """The reference at `path`; raises SettingsError where it is none, is of another format or was changed by hand."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, UnicodeDecodeError) as error:
        raise SettingsError(str(path), [f"is no JSON: {error}"]) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise SettingsError(str(path), [f"is no reference of format {FORMAT}; learn it again with 'evenmelt learn'"])
    try:
        reference = _from_dict(data)
    except (KeyError, TypeError, ValueError) as error:
        raise SettingsError(str(path), [f"is no whole reference: {error!r}; learn it again"]) from None
    whole = with_version(reference)
    if whole.version != data.get("version"):
        problem = "its content does not fit its version: it was changed after it was learned; learn it again"
        raise SettingsError(str(path), [problem])
    return whole


def _from_dict(data: dict[str, Any]) -> Reference:
    given = {key: data[key] for key in ("line", "line_version", "recipe", "recipe_version", "machine", "learned_from")}
    normals = tuple(
        Normal(**{**one, "features": tuple(Feature(**feature) for feature in one["features"])})
        for one in data["normals"]
    )
    together = data["together"]
    if together is not None:
        together = Together(
            **{
                **together,
                "names": tuple(together["names"]),
                "loadings": np.array(together["loadings"], float).reshape(-1, len(together["names"])),
                "variances": np.array(together["variances"], float),
            }
        )
    return Reference(**given, normals=normals, not_learned=data["not_learned"], together=together)
