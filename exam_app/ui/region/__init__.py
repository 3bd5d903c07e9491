"""One part of the body: its row, its page, its sheets."""
