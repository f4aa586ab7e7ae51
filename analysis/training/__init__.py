"""Draws patches and trains the opening network; nothing else imports this room."""
