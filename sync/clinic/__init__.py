"""What the clinic does: receive, and give back."""
