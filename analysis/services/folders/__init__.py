"""Photos of a whole folder measured into the log."""
