"""Screens and their parts: Flet, and nothing but Flet, lives here."""
