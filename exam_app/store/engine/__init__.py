"""The sealed store itself: files, keys, journal, and TinyDB's tables over it."""
