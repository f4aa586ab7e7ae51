"""Struckface: how good is a struck concrete face, and what made it so."""
