"""First start, restoring, and looking after the store."""
