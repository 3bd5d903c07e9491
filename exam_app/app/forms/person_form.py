"""The fields of one person, shared by the set-up and the list of people."""

import uuid

from exam_app.app.forms.form import Ask, Form, Kind, choice
from exam_app.domain.exam.people import Person, Role
from exam_app.language.catalogue import to_translate, tr

ROLE_LABELS = (
    (Role.VETERINARIAN.value, to_translate("Veterinarian")),
    (Role.TECHNICIAN.value, to_translate("Technician")),
    (Role.VOLUNTEER.value, to_translate("Volunteer")),
)
# No role is chosen beforehand.
ASKS = (
    Ask("name", to_translate("Name"), identifier="person-name"),
    Ask(
        "initials",
        to_translate("Initials"),
        hint=to_translate("One to four letters; left empty, taken from the name"),
        identifier="person-initials",
        is_more=True,
    ),
    choice(
        "role",
        to_translate("Role"),
        ROLE_LABELS,
        required=to_translate("Choose a role."),
        hint=to_translate("It chooses words and scopes, and limits nobody."),
        identifier="person-role",
    ),
    Ask(
        "licence",
        to_translate("Licence number, if there is one"),
        identifier="person-licence",
        is_more=True,
    ),
    Ask(
        "pin",
        to_translate("PIN, four to eight digits"),
        kind=Kind.PIN,
        hint=to_translate("Opens after a short lock, and closes exams."),
        identifier="person-pin",
    ),
    Ask(
        "pin_again",
        to_translate("The same PIN again"),
        kind=Kind.PIN,
        identifier="person-pin-again",
    ),
)
_PINS_DIFFER = to_translate("The two PINs differ. Type the second one again.")
NAMES = tuple(ask.name for ask in ASKS)


def problem_of(form: Form) -> tuple[str, str]:
    """Return the first field that is missing or wrong, and what is; else empty."""
    pin = form["pin"]
    checks = (
        ("name", not form["name"], tr("Write the person's name.")),
        (
            "initials",
            len(form["initials"]) > 4,
            tr("Initials have one to four letters."),
        ),
        ("role", not form["role"], tr("Choose a role.")),
        (
            "pin",
            not pin.isdecimal() or not 4 <= len(pin) <= 8,
            tr("A PIN has 4 to 8 digits."),
        ),
        ("pin_again", pin != form["pin_again"], tr(_PINS_DIFFER)),
    )
    wrong = ((name, sentence) for name, is_wrong, sentence in checks if is_wrong)
    return next(wrong, ("", ""))


def person_of(form: Form) -> Person:
    """Make a new person."""
    return Person(
        uuid.uuid4().hex,
        form["name"],
        Role(form["role"]),
        form["initials"] or initials_of(form["name"]),
        form["licence"],
    )


def initials_of(name: str) -> str:
    """Take the first letters of up to four words of a name."""
    return "".join(word[0] for word in name.split()[:4]).upper()
