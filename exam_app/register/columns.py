"""What of a document stands in the clear, and what says who else may be concerned.

Clear are ids, a day, the species, the class of the review, hashes, a device's number,
and blind values of words; everything else is sealed. ``stem`` names what a document is
about: saves that touch the same stem take turns.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import IntEnum
from typing import Any

from exam_app.domain.wording.visible_text import visible
from exam_app.store.repositories.rows import URGENT, URGENT_NOT_TOLD

CLOSED = "closed"
ANIMALS = "animals"
REVISED = "revised"
INCOMING = "incoming"
# By which field of its row a document is looked up.
REF_OF = {
    REVISED: "exam_id",
    "notes": "exam_id",
    "private_blocks": "exam_id",
    INCOMING: "device_id",
    "outgoing": "recipient_id",
}
NUMBER_OF = {INCOMING: "sequence"}
RECORD_FIELDS = ("exam_id", "animal_id", "group_exam")
# Kinds that grow with the exams; any other is read whole and kept in memory.
LARGE = frozenset(
    {
        CLOSED,
        ANIMALS,
        "animal_versions",
        "owner_blocks",
        "erased_owners",
        "photographs",
        "handed_over",
        "given_up",
        *REF_OF,
    }
)
_DAY = re.compile(r"(\d{4})-(\d\d)-(\d\d)")
_ID = re.compile(r"[0-9a-zA-Z_.:-]{0,80}")


class ReviewClass(IntEnum):
    """The order in which a record is to be read; the first first."""

    NOT_TOLD = 0
    URGENT = 1
    BITE = 2
    TO_LOOK = 3
    OUTSIDE = 4
    GAPS = 5
    REST = 6


def stem(document_id: str) -> str:
    """Give what a document is about: its id up to a colon."""
    return document_id.partition(":")[0]


def review_class(row: Mapping[str, Any]) -> ReviewClass:
    """Place a record's row in the order of the review."""
    found = (
        (row.get("urgency") == URGENT_NOT_TOLD, ReviewClass.NOT_TOLD),
        (row.get("urgency") == URGENT, ReviewClass.URGENT),
        (row.get("bite"), ReviewClass.BITE),
        (row.get("to_look"), ReviewClass.TO_LOOK),
        (row.get("flags"), ReviewClass.OUTSIDE),
        (row.get("gaps"), ReviewClass.GAPS),
    )
    return next((place for holds, place in found if holds), ReviewClass.REST)


@dataclass(frozen=True, slots=True)
class RecordColumns:
    """What of a closed exam stands in the clear.

    Attributes:
        day: On which it was closed, as its device says; None where that is no date.
    """

    exam_id: str
    animal_id: str
    group_exam: str
    record_hash: str
    device_id: str
    day: date | None
    species: str
    review: ReviewClass
    is_received: bool
    is_acknowledged: bool


def record_columns(row: Mapping[str, Any]) -> RecordColumns:
    """Take from a closed exam's row what may stand in the clear.

    What should be an id and holds anything else stays sealed: it might be a name.
    """
    ids = (_id(row, "exam_id"), _id(row, "animal_id"), _id(row, "group_exam"))
    return RecordColumns(
        *ids,
        record_hash=_id(row, "hash"),
        device_id=_id(row, "device_id"),
        day=_day(str(row.get("closed", ""))),
        species=_id(row, "species"),
        review=review_class(row),
        is_received=bool(row.get("is_received")),
        is_acknowledged=bool(row.get("acknowledged_by")),
    )


def ref_of(kind: str, row: Mapping[str, Any]) -> str | None:
    """Give the field by which documents of a kind are looked up, or None."""
    name = REF_OF.get(kind)
    return None if name is None else str(row.get(name, ""))


def number_of(kind: str, row: Mapping[str, Any]) -> int | None:
    """Give the number by which documents of a kind are ordered, or None."""
    name = NUMBER_OF.get(kind)
    return None if name is None else int(row.get(name, 0))


def _id(row: Mapping[str, Any], name: str) -> str:
    said = visible(str(row.get(name) or ""))
    return said if _ID.fullmatch(said) else ""


def _day(said: str) -> date | None:
    found = _DAY.match(said)
    try:
        return date(*map(int, found.groups())) if found else None
    except ValueError:
        return None
