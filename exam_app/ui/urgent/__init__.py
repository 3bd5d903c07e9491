"""Urgent signs and their answers."""
