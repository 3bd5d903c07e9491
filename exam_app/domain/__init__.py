"""What an exam is: pure values and rules, no files, clock, screen or randomness."""
