"""Draws what the networks learn from, and trains them; nothing imports this room."""
