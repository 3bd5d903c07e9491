"""What is packed, signed and sealed as one bundle."""
