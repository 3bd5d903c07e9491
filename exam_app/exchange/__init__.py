"""Records given and taken: the store joined to ``sync``, neither knows the other."""
