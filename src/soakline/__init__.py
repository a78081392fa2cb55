"""Soakline: the geometry, fluid physics and sums behind instillation therapy under spared skin."""

__version__ = "0.1.0"
