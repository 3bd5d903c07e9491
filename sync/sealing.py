"""The sealed outer form of everything that is sealed: header, key, ciphertext."""

from collections.abc import Callable

Random = Callable[[int], bytes]
