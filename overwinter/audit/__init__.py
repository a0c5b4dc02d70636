"""The second opinion: every limit and every cost recomputed along each tree's true path."""
