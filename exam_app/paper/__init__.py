"""Printed sheets as PDF, made here: a record, take-home words, cards, lists, forms."""
