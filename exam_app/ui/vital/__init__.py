"""One vital: typed, counted, tapped, worded."""
