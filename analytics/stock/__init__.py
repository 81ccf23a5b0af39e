"""Demand distributions and reorder."""
