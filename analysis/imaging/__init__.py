"""From bytes to an upright photo, its scale, the measured area and its quality."""
