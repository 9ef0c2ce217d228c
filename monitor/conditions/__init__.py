"""What a process engineer recognises, one condition a file, listed in `registry`."""
