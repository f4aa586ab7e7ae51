"""What improves the finish: comparing the levels of a factor."""
