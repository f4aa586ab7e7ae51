"""Which photo of a batch is of which piece."""
