"""Sheets, tables and annotations to take away."""
