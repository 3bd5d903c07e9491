"""What was found: terms, details, lumps."""
