"""Species protocols: data files, what a loaded one must satisfy, and their loader."""
