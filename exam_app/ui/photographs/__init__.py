"""Photographs: taken or chosen, looked at, compared."""
