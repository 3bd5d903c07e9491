"""The application without Flet: what screens and commands both call."""
