"""The words of screens and protocols, in the language that was chosen.

English stands in the code and in the protocols; every other language is a catalogue of
GNU gettext beside this module, which the standard library reads, plural rules included.
One installation has one language. What is stored, signed or handed over is English
always, and so is whatever is compared with it: ``in_english``.
"""

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from importlib import resources

ENGLISH = "en"
LANGUAGES = {ENGLISH: "English", "es": "Español"}
"""Every language by its ISO 639 code, in its own words."""

_AS_WRITTEN = gettext.NullTranslations()
_is_english: ContextVar[bool] = ContextVar("is_english", default=False)


class _Chosen:
    """The language of this installation, and its catalogue."""

    code = ENGLISH
    translations = _AS_WRITTEN


def use(code: str) -> None:
    """Show everything in a language from now on.

    Args:
        code: One of ``LANGUAGES``; any other means English, as a store of a later
            version may name one that is not here.
    """
    _Chosen.code = code if code in LANGUAGES else ENGLISH
    _Chosen.translations = _read(_Chosen.code)


def chosen() -> str:
    """Return the code of the language that everything is shown in."""
    return ENGLISH if _is_english.get() else _Chosen.code


@contextmanager
def in_english() -> Iterator[None]:
    """Write English inside, whatever was chosen: for what is stored or compared."""
    before = _is_english.set(True)
    try:
        yield
    finally:
        _is_english.reset(before)


def tr(message: str, /, **values: object) -> str:
    """Return a message in the language that was chosen.

    Args:
        message: In English, with ``{name}`` where a value stands.
        values: By name; a message without any is not formatted.
    """
    words = _translations()
    # An empty one would be answered with the head of the catalogue.
    text = words.gettext(message) if message and words is not _AS_WRITTEN else message
    return text.format(**values) if values else text


def tr_plural(one: str, many: str, /, count: int, **values: object) -> str:
    """Return the form of a message that goes with a number, which is ``{count}``."""
    text = _translations().ngettext(one, many, count)
    return text.format(count=count, **values)


def tr_context(context: str, message: str, /, **values: object) -> str:
    """Return a message that English uses for several things: ``context`` says which."""
    text = _translations().pgettext(context, message)
    return text.format(**values) if values else text


def to_translate(message: str) -> str:
    """Mark a message for the catalogues and return it as it is; ``tr`` shows it."""
    return message


def _translations() -> gettext.NullTranslations:
    return _AS_WRITTEN if _is_english.get() else _Chosen.translations


def _read(code: str) -> gettext.NullTranslations:
    if code == ENGLISH:
        return _AS_WRITTEN
    place = resources.files("exam_app.language") / "catalogues" / f"{code}.mo"
    with place.open("rb") as file:
        return gettext.GNUTranslations(file)
