"""Hand-over and pairing on the device."""
