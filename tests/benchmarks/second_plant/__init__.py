"""A second invented plant, built on other lines than `sample_logs`, to judge the monitor as a stranger would.

It shares no code with `sample_logs` and looks at nothing in `monitor.conditions`. Its own choices: screws as a chain
of part-filled tanks ahead of a filled length whose pressure carries the die; melt enthalpy marched zone by zone;
temperature control in velocity form; feeders that adapt a feed factor; crews as lists of events.
"""
