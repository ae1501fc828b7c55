"""syncd keeps the cards of home-made music players in step with a master library."""

__version__ = "0.1.0"
