"""Second operators: repeatability and reproducibility, and the shop's own spread."""
