"""What a screen shows, as plain values and words."""
