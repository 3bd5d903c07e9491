"""The clinic's screens."""
