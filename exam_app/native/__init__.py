"""What ``flet build`` takes as the app of a native package: one file and its icon."""
