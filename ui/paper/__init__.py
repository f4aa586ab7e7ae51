"""Sheets and files to take along."""
