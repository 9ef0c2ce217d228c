"""References: what is normal on a line under a recipe, learned from good runs, kept in a file people can read."""
