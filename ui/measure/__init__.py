"""From a photo to a reading."""
