"""The clinic's side: pairing, receiving, notes, exports."""
