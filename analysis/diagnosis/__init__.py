"""Where voids sit, what that suggests, what the trade does."""
