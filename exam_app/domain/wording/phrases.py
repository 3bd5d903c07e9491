"""A phrase as it begins a line or a sentence."""


def capital(text: str) -> str:
    """Return a phrase with its first letter as a capital; the rest stays as it is."""
    return text[:1].upper() + text[1:]
