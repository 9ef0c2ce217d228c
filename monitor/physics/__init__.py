"""Extrusion engineering as pure functions of arrays: one idea a file, units in the names.

Every function works element by element on floats or arrays that broadcast together, lets NaN pass through,
and gives NaN where a denominator is zero. An element never depends on its neighbours, so blocks may be cut
anywhere.
"""
