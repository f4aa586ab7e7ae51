"""Whether it is vibration."""
