"""Cards, pairing and its words: whose keys count."""
