"""Bibula: drying wet works on paper against absorbent materials, forecast and recorded."""

__version__ = "0.1.0"
