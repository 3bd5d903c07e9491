"""The invented animals, people and places of the demo."""
