"""The tuned numbers of the measurement, a class for each stage."""
