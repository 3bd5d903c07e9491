"""Lumps: their size and feel, and the same lump over time."""
