"""The first screen and the day's plan."""
