"""How to photograph a struck face."""
