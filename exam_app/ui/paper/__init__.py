"""What is printed from the screens."""
