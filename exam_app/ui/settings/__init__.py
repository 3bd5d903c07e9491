"""Settings, people, sources and care of the store."""
