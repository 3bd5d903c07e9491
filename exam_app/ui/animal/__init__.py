"""The animals, their pages and kennel cards."""
