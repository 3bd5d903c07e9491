"""What differs by country: the units first offered, and the sign on the number pad.

Numbers on screens, records and paper keep the point, and dates keep ISO 8601
(2026-11-30), in every language: a record is read by people of several countries, and a
point that turns into a comma is a misreading by ten. Typing reads a comma as well as a
point everywhere. The key of a number pad bears the sign that its country writes, and
enters the point.

A country decides about units only where none was used yet. Both tables are CLDR's: the
units ``unitPreferenceData`` of cldr-core 48.2.0, ``temperature`` (weather) and ``mass``
(person); the sign that of Babel, of every locale of Spanish. A country that is not in
them is as the rest of the world.
"""

import re

FAHRENHEIT = frozenset({"BS", "BZ", "KY", "PR", "PW", "US"})
POUNDS = frozenset({"US"})
# Where Spanish is written with a point; elsewhere with a comma.
POINT_IN_SPANISH = frozenset(
    {
        "419",
        "BR",
        "BZ",
        "CU",
        "DO",
        "GT",
        "HN",
        "MX",
        "NI",
        "PA",
        "PE",
        "PR",
        "SV",
        "US",
    }
)
_COUNTRY = re.compile(r"[A-Z]{2}|[0-9]{3}")
_FIRST = {"degC": ("degF", FAHRENHEIT), "kg": ("lb", POUNDS)}


def country_of(tag: str) -> str:
    """Return the country of a system's name of a language: ``US`` of ``es_US.UTF-8``.

    Returns:
        Two letters, or the three digits of a wider region; empty where none is named.
    """
    parts = tag.partition(".")[0].partition("@")[0].replace("_", "-").split("-")
    return next(filter(_COUNTRY.fullmatch, map(str.upper, parts[1:])), "")


def first_unit(offered: tuple[str, ...], country: str) -> str:
    """Return the unit that is offered first where none was used yet.

    Args:
        offered: Ids of a measure's units in its protocol's order; at least one.
        country: As ``country_of`` gives it.
    """
    usual = offered[0]
    other, countries = _FIRST.get(usual, ("", frozenset()))
    return other if country in countries and other in offered else usual


def decimal_sign(language: str, country: str) -> str:
    """Return the sign that a key for fractions bears: ``.`` or ``,``."""
    if language != "es":
        return "."
    return "." if country in POINT_IN_SPANISH else ","
