"""The fields of one person, shared by the set-up and the list of people."""

import uuid
from dataclasses import dataclass, field
from typing import Any

import flet as ft

from exam_app.domain.exam.people import Role
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.texts import quiet, stack, strong

ROLE_LABELS = (
    (Role.VETERINARIAN.value, "Veterinarian"),
    (Role.TECHNICIAN.value, "Technician"),
    (Role.VOLUNTEER.value, "Volunteer"),
)


@dataclass(slots=True, repr=False)
class PersonForm:
    """Name, role, initials, licence and PIN of one person.

    Attributes:
        control: Places the fields on a screen.
        role: The chosen role's value, or None.
    """

    role: str | None = None
    control: ft.Control = field(init=False)
    _name: Field = field(init=False)
    _initials: Field = field(init=False)
    _licence: Field = field(init=False)
    _pin: Field = field(init=False)
    _again: Field = field(init=False)

    def __post_init__(self) -> None:
        """Build empty fields; no role is chosen beforehand."""
        number = ft.KeyboardType.NUMBER
        self._name = text_field("person-name", "Name")
        self._initials = text_field(
            "person-initials",
            "Initials",
            hint="One to four letters; left empty, taken from the name",
        )
        self._licence = text_field("person-licence", "Licence number, if there is one")
        self._pin = text_field(
            "person-pin",
            "PIN, four to eight digits",
            secret=True,
            keyboard=number,
            hint="Opens the screen after a short lock and confirms who closes an exam.",
        )
        self._again = text_field(
            "person-pin-again",
            "The same PIN again",
            secret=True,
            keyboard=number,
        )
        self.control = stack(
            self._name.control,
            self._initials.control,
            strong("Role"),
            ChoiceRow("person-role", ROLE_LABELS, self._choose, size="usual").control,
            quiet("The role chooses words and scopes. It does not limit anybody."),
            self._licence.control,
            self._pin.control,
            self._again.control,
        )

    @property
    def pin(self) -> str:
        """The PIN as typed."""
        return self._pin.value

    def problem(self) -> str | None:
        """Name the first thing that is missing or wrong."""
        return person_problem(
            self._name.value,
            self._initials.value,
            self.role,
            self._pin.value,
            self._again.value,
        )

    def person(self) -> dict[str, Any]:
        """Give the fields of a new person."""
        name = self._name.value
        return {
            "person_id": uuid.uuid4().hex,
            "name": name,
            "role": self.role or "",
            "initials": self._initials.value or initials_of(name),
            "licence": self._licence.value,
        }

    async def _choose(self, key: str) -> None:
        self.role = key


def person_problem(
    name: str, initials: str, role: str | None, pin: str, again: str
) -> str | None:
    """Name the first thing that is missing or wrong, or None."""
    checks = (
        (not name, "Write the person's name."),
        (len(initials) > 4, "Initials have one to four letters."),
        (role is None, "Choose a role."),
        (not pin.isdecimal() or not 4 <= len(pin) <= 8, "A PIN has 4 to 8 digits."),
        (pin != again, "The two PINs differ. Type the second one again."),
    )
    return next((sentence for is_wrong, sentence in checks if is_wrong), None)


def initials_of(name: str) -> str:
    """Take the first letters of up to four words of a name."""
    return "".join(word[0] for word in name.split()[:4]).upper()
