"""From a face to its voids and the reading."""
