"""Building blocks that every screen uses: buttons, choices, fields, notices."""
