"""What the number means and what to mind."""
