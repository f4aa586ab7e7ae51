"""Finds the face in a photo, and what lies on it that is none of it."""
