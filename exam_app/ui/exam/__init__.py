"""The exam itself, from the first page to closing."""
