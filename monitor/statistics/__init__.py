"""Charts, run lengths, trends and robust summaries: one idea a file.

Statistics here add early warning and evidence; they override no rule. Readings that are missing (NaN) are
skipped, and every function says what that does to it.
"""
