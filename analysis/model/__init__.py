"""Every frozen value that travels between rooms."""
