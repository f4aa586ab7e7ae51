"""What improves the finish: comparing, confounding, planning."""
