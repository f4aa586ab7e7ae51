"""Pieces of screen that pages share."""
