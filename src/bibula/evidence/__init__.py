"""Readings become summaries and cards."""
