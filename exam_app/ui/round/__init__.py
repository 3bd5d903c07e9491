"""A round of many animals."""
