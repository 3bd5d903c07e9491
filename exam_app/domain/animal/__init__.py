"""Who is examined: signalment, age, chips, groups."""
