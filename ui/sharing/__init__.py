"""The app in the yard: who may come in, and by which address."""
