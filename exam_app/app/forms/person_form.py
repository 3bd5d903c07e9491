"""The fields of one person, shared by the set-up and the list of people."""

import uuid
from typing import Any

from exam_app.app.forms.form import Ask, Form, Kind, choice
from exam_app.domain.exam.people import Role

ROLE_LABELS = (
    (Role.VETERINARIAN.value, "Veterinarian"),
    (Role.TECHNICIAN.value, "Technician"),
    (Role.VOLUNTEER.value, "Volunteer"),
)
# No role is chosen beforehand.
ASKS = (
    Ask("name", "Name", identifier="person-name"),
    Ask(
        "initials",
        "Initials",
        hint="One to four letters; left empty, taken from the name",
        identifier="person-initials",
    ),
    choice(
        "role",
        "Role",
        ROLE_LABELS,
        hint="The role chooses words and scopes. It does not limit anybody.",
        identifier="person-role",
    ),
    Ask("licence", "Licence number, if there is one", identifier="person-licence"),
    Ask(
        "pin",
        "PIN, four to eight digits",
        kind=Kind.PIN,
        hint="Opens the screen after a short lock and confirms who closes an exam.",
        identifier="person-pin",
    ),
    Ask(
        "pin_again", "The same PIN again", kind=Kind.PIN, identifier="person-pin-again"
    ),
)
NAMES = tuple(ask.name for ask in ASKS)


def problem_of(form: Form) -> str:
    """Name the first thing that is missing or wrong; empty where nothing is."""
    pin = form["pin"]
    checks = (
        (not form["name"], "Write the person's name."),
        (len(form["initials"]) > 4, "Initials have one to four letters."),
        (not form["role"], "Choose a role."),
        (not pin.isdecimal() or not 4 <= len(pin) <= 8, "A PIN has 4 to 8 digits."),
        (pin != form["pin_again"], "The two PINs differ. Type the second one again."),
    )
    return next((sentence for is_wrong, sentence in checks if is_wrong), "")


def person_of(form: Form) -> dict[str, Any]:
    """Give the fields of a new person."""
    return {
        "person_id": uuid.uuid4().hex,
        "name": form["name"],
        "role": form["role"],
        "initials": form["initials"] or initials_of(form["name"]),
        "licence": form["licence"],
    }


def initials_of(name: str) -> str:
    """Take the first letters of up to four words of a name."""
    return "".join(word[0] for word in name.split()[:4]).upper()
