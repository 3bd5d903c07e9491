"""The first start, restoring, and unlocking."""
