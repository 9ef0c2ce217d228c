"""What can go wrong with the journal."""

from __future__ import annotations


class JournalError(Exception):
    """The journal cannot do what was asked; the message says why and what to do."""
