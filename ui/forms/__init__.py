"""How each form wears."""
