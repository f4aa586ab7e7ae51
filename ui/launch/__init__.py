"""What starts the app; the standard library is all it needs."""
