"""Turn what is kept of a person into the person an exam names."""

from collections.abc import Mapping
from typing import Any

from exam_app.domain.exam.people import Person, Role


def person_of(fields: Mapping[str, Any]) -> Person:
    """Return a person from the fields kept of them."""
    return Person(
        person_id=fields["person_id"],
        name=fields["name"],
        role=Role(fields["role"]),
        initials=fields.get("initials", ""),
        licence=fields.get("licence", ""),
    )
