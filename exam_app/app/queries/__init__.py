"""What is kept, read for lists and screens."""
