"""Logging a pour."""
