"""Many photos at once, checked and measured."""
