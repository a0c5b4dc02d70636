"""Plan where every potted tree spends the winter."""

__version__ = "0.1.0"
