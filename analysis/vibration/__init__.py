"""Is it vibration: more, the same, less, or something else first."""
