"""Fits with intervals and seeded ensembles; nothing here knows what it is fitting."""
