"""The sentences of the answer about vibration."""
