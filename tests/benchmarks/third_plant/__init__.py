"""A third invented plant, drawn anew from a seed, to judge the monitor on logs nobody has seen.

It shares no code with `sample_logs`, with the second plant or with `monitor`. Every case has a machine of its own:
screw, rates, melt, loop tuning, noise, cadence, units, tag names and what is logged are drawn; so are a fault's onset,
size and length, and what else goes on. What counts as right is written down before the log is judged: `truth.py`.
"""
