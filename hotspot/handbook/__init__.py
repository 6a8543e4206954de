"""Numbers only: each with its source, edition, range and where it was read."""
