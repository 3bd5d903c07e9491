"""Everything kept here as files that are read without the app, and their check."""
