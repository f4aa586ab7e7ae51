"""What improves the finish."""
