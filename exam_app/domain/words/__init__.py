"""Read one line of an exam as typed or dictated: what it says, what has to be asked."""
