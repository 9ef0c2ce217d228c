"""A plant's log in, Blocks of readings on the line's cadence out."""
