"""Draws whole photos and trains the network that tells face from all else."""
