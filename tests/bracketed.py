"""Another language in which every message stands in brackets, so that it is seen."""

import gettext


class Bracketed(gettext.NullTranslations):
    """A catalogue of every message there is."""

    def gettext(self, message):
        return f"⟦{message}⟧"

    def ngettext(self, one, many, count):
        return f"⟦{one if count == 1 else many}⟧"

    def pgettext(self, _context, message):
        return f"⟦{message}⟧"
