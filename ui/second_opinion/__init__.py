"""A second opinion: points counted, faces measured again, the shop's own error."""
