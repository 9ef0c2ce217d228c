"""Judges a line's Blocks against its recipe and the physics of its machine."""
