"""Published limits and finish targets, as data."""
