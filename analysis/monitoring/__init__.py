"""Finish over pours and over form uses."""
