"""Which language everything is shown in: the one kept in the store, or the system's.

The choice is sealed with everything else. What is shown before the store is open speaks
the language of the browser or the system, or the one that was last shown in this run.
"""

import importlib
import os
import struct
import sys
from collections.abc import Mapping

from exam_app.app.session import Session
from exam_app.language.catalogue import (
    ENGLISH,
    LANGUAGES,
    chosen,
    to_translate,
    use,
)
from exam_app.language.regional import country_of
from exam_app.store.vault.vault import Vault

LANGUAGE = "language"
MISSING = to_translate(
    "The words of the chosen language are missing or damaged in this installation, "
    "so everything is shown in English. Nothing was lost. Install the app again, or "
    "choose English."
)
# In the order in which a system looks at them.
_NAMES = ("LC_ALL", "LC_MESSAGES", "LANG")
_MEASURING = ("LC_ALL", "LC_MEASUREMENT", "LANG")


def language_of(tag: str) -> str:
    """Return the language that a system's name of one means, as ``es`` of ``es_MX``.

    Returns:
        One of ``LANGUAGES``; English where it is none of them.
    """
    code = tag.replace("_", "-").partition("-")[0].partition(".")[0].lower()
    return code if code in LANGUAGES else ENGLISH


def system_language(given: Mapping[str, str] = os.environ) -> str:
    """Return the language of the browser, or of the system where none runs Python.

    Args:
        given: The environment.
    """
    if sys.platform == "emscripten":
        return language_of(_browser_tag())
    return language_of(next(filter(None, map(given.get, _NAMES)), ""))


def system_country(given: Mapping[str, str] = os.environ) -> str:
    """Return the country of the browser, or of the system, as it measures.

    Args:
        given: The environment.
    """
    if sys.platform == "emscripten":
        return country_of(_browser_tag())
    return country_of(next(filter(None, map(given.get, _MEASURING)), ""))


def _browser_tag() -> str:
    """Return what the browser names its language, or nothing where it does not."""
    navigator = getattr(importlib.import_module("js"), "navigator", None)
    return str(getattr(navigator, "language", ""))


def show_in(code: str) -> bool:
    """Show everything in a language from now on, or in English where it is missing.

    Returns:
        Whether it is shown in that language.
    """
    try:
        use(code)
    except (OSError, ValueError, struct.error):
        # Missing, damaged, or cut short.
        use(ENGLISH)
    return chosen() == code


def show_kept(vault: Vault) -> None:
    """Show everything in the language that an open store keeps, or the system's."""
    code = vault.settings.get(LANGUAGE, "") or system_language()
    if code != chosen():
        show_in(code)


def is_missing(vault: Vault) -> bool:
    """Whether another language was chosen than the one that can be shown."""
    return bool(vault.settings.get(LANGUAGE, chosen()) != chosen())


async def keep(session: Session) -> None:
    """Keep the language that is shown now for the next start."""
    await session.write(lambda: session.vault.settings.put(LANGUAGE, chosen()))


async def choose(session: Session, code: str) -> bool:
    """Show everything in a language and keep it for the next start.

    Returns:
        Whether it is shown in that language; the one before stays where it is missing.

    Raises:
        VaultError: Nothing was saved, and the one before stays.
    """
    before = chosen()
    if not show_in(code):
        show_in(before)
        return False
    try:
        await session.save(lambda: session.vault.settings.put(LANGUAGE, code))
    except Exception:
        show_in(before)
        raise
    return True
