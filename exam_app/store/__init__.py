"""The sealed store: one vault folder, its keys, and the repositories inside it."""
