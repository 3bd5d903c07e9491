"""What is asked about a table of animals: how it is written, and what it means."""

from exam_app.app.animal_import.matching import DATE_ORDERS
from exam_app.app.animal_import.table_file import ENCODINGS, SEPARATORS
from exam_app.app.forms.animal_form import UNIT_LABELS
from exam_app.app.forms.form import Ask, Kind, choice
from exam_app.language.catalogue import to_translate

_SEPARATOR_LABELS = {
    "comma": to_translate("Comma"),
    "semicolon": to_translate("Semicolon"),
    "tab": to_translate("Tab"),
}
WRITTEN = (
    choice(
        "encoding",
        to_translate("How it is written"),
        tuple((name, name.upper()) for name in ENCODINGS),
        columns=2,
    ),
    choice(
        "separator",
        to_translate("What stands between its columns"),
        tuple((name, _SEPARATOR_LABELS[name]) for name in SEPARATORS),
        columns=3,
    ),
)
_ORDER_LABELS = {
    "year-month-day": to_translate("year, month, day"),
    "day-month-year": to_translate("day, month, year"),
    "month-day-year": to_translate("month, day, year"),
}
ORDER = choice(
    "date_order",
    to_translate("How its dates are written"),
    tuple((order, _ORDER_LABELS[order]) for order in DATE_ORDERS),
)
UNIT = choice("age_unit", to_translate("The unit of its ages"), UNIT_LABELS, columns=4)
DAY = Ask(
    "age_on",
    to_translate("The day its ages are of"),
    hint=to_translate("Year-month-day: 2026-05-01"),
)
ALSO = Ask(
    "also",
    to_translate("Take these in too, each as an animal of its own"),
    kind=Kind.TOGGLE,
)
# A word of the table, by what it is a word of.
WORD_OF = {
    "species": to_translate("“{word}”, a species"),
    "sex": to_translate("“{word}”, a sex"),
}


def species_asked(labels: tuple[tuple[str, str], ...]) -> Ask:
    """Ask for the species of a table that has no column of it."""
    return choice("species", to_translate("The species of every row"), labels)
