"""One lot as a file of its own: HTML that needs nothing beside itself and prints well."""
