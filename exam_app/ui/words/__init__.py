"""One text box that takes a line of an exam, typed or dictated."""
