"""Line and recipe files in a folder, with every version that was saved.

    FOLDER/twin 4.toml                                         the file as it holds now
    FOLDER/versions/twin 4/20260303T062900.000000Z-ab12cd34ef56.toml  every version of it: when it was saved (UTC),
                                                      and the first 12 digits of the SHA-256 of its content

Nothing in `versions` is ever changed. A file that was changed by hand is put there when it is next saved from a page.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from dashboards.workshop.whole_file import locked, write_whole

VERSIONS = "versions"
SUFFIX = ".toml"
MOST_BYTES = 1_000_000
"""Largest file that is shown: a line file of a thousand sensors has about 100 kB."""

_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_NAME = re.compile(r"[^\W_][\w .,()+-]{0,59}\.toml")
_STAMP = "%Y%m%dT%H%M%S.%fZ"
_VERSION = re.compile(r"(\d{8}T\d{6}\.\d{6}Z)-([0-9a-f]{12})\.toml")


class NotSaved(Exception):
    """A file that was not saved. why: 'name', 'there', 'changed', 'folder'; said: what the system said."""

    def __init__(self, why: str, said: str = "") -> None:
        super().__init__(f"{why} {said}".strip())
        self.why = why
        self.said = said


@dataclass(frozen=True)
class Version:
    """One version of a file. saved_ns: UTC."""

    name: str
    saved_ns: int


def version_of(text: str) -> str:
    """The name of a content, as line and recipe files carry it."""
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def file_name(title: str) -> str:
    """A file name for a line or recipe: 'twin 4.toml'."""
    tidy = " ".join(re.sub(r"[^\w .,()+-]+", " ", title).split()).strip(" ._-,") or "line"
    return tidy[:50].strip() + SUFFIX


class KeptFiles:
    """The files of one folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def names(self) -> list[str]:
        """Files that may be line or recipe files, by name; none where there is no such folder yet."""
        if not self.folder.is_dir():
            return []
        return sorted(p.name for p in self.folder.glob(f"*{SUFFIX}") if p.is_file() and _NAME.fullmatch(p.name))

    def text(self, name: str) -> str | None:
        """What a file holds now; None where there is none of that name, or none that can be read as text."""
        if not _NAME.fullmatch(name):
            return None
        return _text(self.folder / name)

    def changed_ns(self, name: str) -> int:
        """When the file was written, UTC."""
        return (self.folder / name).stat().st_mtime_ns

    def versions(self, name: str) -> list[Version]:
        """Every version, the newest first; a file changed by hand counts with the time it was written."""
        found = [
            Version(match[2], _ns(match[1]))
            for path in self._versions_folder(name).glob(f"*{SUFFIX}")
            if (match := _VERSION.fullmatch(path.name))
        ]
        found.sort(key=lambda one: -one.saved_ns)
        text = self.text(name)
        if text is not None and (not found or found[0].name != version_of(text)):
            found.insert(0, Version(version_of(text), self.changed_ns(name)))
        return found

    def version_text(self, name: str, version: str) -> str | None:
        """The content of one version."""
        text = self.text(name)
        if text is not None and version_of(text) == version:
            return text
        if not re.fullmatch(r"[0-9a-f]{12}", version) or not _NAME.fullmatch(name):
            return None
        return next(map(_text, self._versions_folder(name).glob(f"*-{version}{SUFFIX}")), None)

    def save(self, name: str, text: str, was: str, now_ns: int) -> str:
        """Keeps a new version and makes it the one that holds; gives its name.

        was: the version the change began from, '' for a file that is new. Raises NotSaved: nothing is ever written
        over what somebody else saved meanwhile.
        """
        if not _NAME.fullmatch(name):
            raise NotSaved("name", name)
        try:
            with locked(self.folder):
                return self._save(name, text, was, now_ns)
        except OSError as error:
            raise NotSaved("folder", error.strerror or str(error)) from None

    def _save(self, name: str, text: str, was: str, now_ns: int) -> str:
        before = self.text(name)
        if before is not None and not was and before != text:
            raise NotSaved("there", name)
        if before is None and (was or (self.folder / name).exists()):
            raise NotSaved("changed", name)
        if before is not None and was and version_of(before) != was:
            raise NotSaved("changed", name)
        kept = self._versions_folder(name)
        kept.mkdir(parents=True, exist_ok=True)
        if before is not None and not any(kept.glob(f"*-{version_of(before)}{SUFFIX}")):
            self._keep(kept, before, self.changed_ns(name))
        version = version_of(text)
        if before != text:
            newest = max((one.saved_ns for one in self.versions(name)), default=0)
            self._keep(kept, text, max(now_ns, newest + 1000))
            write_whole(self.folder / name, text.encode())
        return version

    def _keep(self, kept: Path, text: str, at_ns: int) -> None:
        stamp = (_EPOCH + dt.timedelta(microseconds=at_ns // 1000)).strftime(_STAMP)
        write_whole(kept / f"{stamp}-{version_of(text)}{SUFFIX}", text.encode())

    def _versions_folder(self, name: str) -> Path:
        return self.folder / VERSIONS / name.removesuffix(SUFFIX)


def _text(path: Path) -> str | None:
    try:
        if path.stat().st_size > MOST_BYTES:
            return None
        return path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return None


def _ns(stamp: str) -> int:
    at = dt.datetime.strptime(stamp, _STAMP).replace(tzinfo=dt.UTC) - _EPOCH
    return at // dt.timedelta(microseconds=1) * 1000
