"""The example workshop, and the way into it."""
