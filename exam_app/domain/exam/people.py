"""Who examined and who wrote it down: claims in a record, never access control."""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.moments import Moment
from exam_app.language.catalogue import to_translate


class Role(StrEnum):
    """What a person says they are; it shapes words and scopes, nothing else."""

    VETERINARIAN = to_translate("veterinarian")
    TECHNICIAN = to_translate("technician")
    VOLUNTEER = to_translate("volunteer")


@dataclass(frozen=True, slots=True)
class Person:
    """Someone this device knows.

    Attributes:
        person_id: UUID as 32 hexadecimal digits.
        name: As the person writes it.
        role: Claimed role.
        initials: One to four letters, for print.
        licence: Licence number as typed, or empty.
    """

    person_id: str
    name: str
    role: Role
    initials: str = ""
    licence: str = ""


@dataclass(frozen=True, slots=True)
class Attribution:
    """Who saw it, who entered it, and when each happened.

    Attributes:
        examined_by: ``person_id`` of the one whose hands and eyes it was.
        entered_by: ``person_id`` of the one who typed or tapped.
        observed: When it was seen.
        entered: When it was entered; later than ``observed`` for a late entry.
    """

    examined_by: str
    entered_by: str
    observed: Moment
    entered: Moment

    @property
    def is_late(self) -> bool:
        """Whether entry came more than ten minutes after the observation."""
        return self.entered.utc_ms - self.observed.utc_ms > 600_000
