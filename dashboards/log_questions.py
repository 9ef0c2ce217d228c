"""What a log leaves open, by its reading account and its proposal: assumed, noticed, taken for no reading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dashboards.account_words import without_folders
from dashboards.texts import say


@dataclass(frozen=True)
class Question:
    """One of them. kind: 'assumed', 'noticed', 'sentinel', 'look'. tag: the tag it is about, '' for the whole log."""

    kind: str
    text: str
    sure: str = ""
    tag: str = ""


def questions(account: Mapping[str, Any], notes: Sequence[str], tags: Sequence[str]) -> list[Question]:
    """All of them, those a person can answer best first."""
    found = [Question("look", note) for note in dict.fromkeys(notes)]
    if account.get("problem"):
        found.append(Question("look", str(account["problem"])))
    sure = account.get("how_sure") or {}
    paths = [file["path"] for file in account.get("files") or () if isinstance(file, dict) and "path" in file]
    for kind, key in (("noticed", "noticed"), ("assumed", "assumptions")):
        for sentence in account.get(key) or ():
            text = without_folders(sentence, paths)
            found.append(Question(kind, text, sure.get(sentence, ""), tag_in(text, tags)))
    for tag, numbers in (account.get("values_sentinel") or {}).items():
        told = ", ".join(f"{number} ({count}×)" for number, count in numbers.items())
        found.append(Question("sentinel", f"{tag}: {told}", "", tag if tag in tags else ""))
    for tag in account.get("silent_tags") or ():
        found.append(Question("look", f"{tag}: {say('import.no_readings')}", "", tag if tag in tags else ""))
    return found


def tag_in(text: str, tags: Sequence[str]) -> str:
    """The longest tag that stands in a sentence between marks, or at its start; '' where none does."""
    inside = [tag for tag in tags if f"'{tag}'" in text or text.startswith((f"{tag}:", f"{tag} "))]
    return max(inside, key=len, default="")
