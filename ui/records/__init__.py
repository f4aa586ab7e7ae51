"""Forms, mixes, words; the log in and out."""
