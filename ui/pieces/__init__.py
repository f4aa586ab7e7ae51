"""What is in the log of a pour and a piece."""
