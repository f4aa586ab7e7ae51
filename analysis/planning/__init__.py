"""The next pours planned, and what a change costs and saves."""
