"""Animals taken in from a table: read, matched to fields, shown, taken in, undone."""
