"""One module per screen; each offers a builder named in ``routes``."""
