"""The words of screens and protocols in several languages."""
