"""What a piece's figures are: which readings stand, pooling, order, tables."""
