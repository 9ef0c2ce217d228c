"""Proposes a line file from a log alone: which tag plays which role, how sure that is, and why.

`propose(paths)` looks at a log, `propose_names(tags)` at names alone; both give a `Proposal`, which
`line_text` turns into the text of a line file.
"""

from __future__ import annotations

from ingest.propose.line_text import line_text
from ingest.propose.proposal import Candidate, LineProposal, LogKeys, Proposal, TagProposal
from ingest.propose.propose_log import propose, propose_names

__all__ = ["Candidate", "LineProposal", "LogKeys", "Proposal", "TagProposal", "line_text", "propose", "propose_names"]
