"""Draws faces whose truth is known."""
