"""The whole opening of each candidate, drawn by a small network."""
