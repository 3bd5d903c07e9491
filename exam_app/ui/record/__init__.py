"""The written record, its notes and corrections."""
