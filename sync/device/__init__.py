"""What a field device does: hand over, and take a day pack."""
