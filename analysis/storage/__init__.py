"""The log: the only room with SQL."""
