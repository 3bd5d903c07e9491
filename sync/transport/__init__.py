"""How sealed bytes travel: codes, typed keys, a folder."""
