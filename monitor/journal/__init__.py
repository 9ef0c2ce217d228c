"""What is kept of a line: readings, records, human actions; written in one transaction a tick, read by the pages."""

from monitor.journal.journal import Journal, Judged

__all__ = ["Journal", "Judged"]
