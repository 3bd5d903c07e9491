"""One vault: made, opened, looked after, backed up, restored."""
