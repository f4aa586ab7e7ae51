"""Two photos of one face in two lights: relief told from colour."""
