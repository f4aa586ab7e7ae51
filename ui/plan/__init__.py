"""The next pours planned."""
