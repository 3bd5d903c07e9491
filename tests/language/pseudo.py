"""A language that is nobody's: every letter of a message stands in its wide form.

What a person would read in another language is then told from what they would still
read in English: a letter of ASCII on a page is in no catalogue, or is a name.
"""

import gettext
import re

from tests.catalogues import said_by_code, said_by_protocols

_WIDE = {ord(c): ord(c) + 0xFEE0 for c in map(chr, range(0x21, 0x7F)) if c.isalpha()}
_PLACEHOLDER = re.compile(r"(\{[^{}]*\})")


def wide(message: str) -> str:
    """Return a message with its letters wide; what stands in braces stays."""
    parts = _PLACEHOLDER.split(message)
    return "".join(p if p.startswith("{") else p.translate(_WIDE) for p in parts)


class Pseudo(gettext.NullTranslations):
    """Says wide what is a message of the code or of a protocol, and nothing else."""

    def __init__(self) -> None:
        super().__init__()
        self._known = frozenset(
            form
            for _, message in said_by_code() | said_by_protocols()
            for form in ((message,) if isinstance(message, str) else message)
        )

    def gettext(self, message: str) -> str:
        return wide(message) if message in self._known else message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        del context
        return self.gettext(message)
