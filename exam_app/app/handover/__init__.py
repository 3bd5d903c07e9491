"""The device's side of the hand-over."""
