"""Pages that show what the monitor found, their figures and the data door they read through."""
