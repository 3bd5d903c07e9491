"""A note beside a closed exam: an addendum, an acknowledgement, a re-check request.

A closed exam is never edited; what comes later is a note of its own, signed by the
device it was written on, naming the exam and the hash of its signed bytes.
"""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.exam.exam import Correction
from exam_app.domain.exam.people import Person
from exam_app.domain.moments import Moment


class NoteKind(StrEnum):
    """What a note is for."""

    ADDENDUM = "addendum"
    ACKNOWLEDGEMENT = "acknowledgement"
    RECHECK_REQUEST = "re-check request"


@dataclass(frozen=True, slots=True)
class Note:
    """One note about one closed exam.

    Attributes:
        note_id: UUID as 32 hexadecimal digits.
        exam_id: The exam's UUID.
        exam_hash: SHA-256 of the exam's signed bytes, in hexadecimal.
        author: Who wrote it, as claimed.
        text: In the author's words; may be empty for an acknowledgement.
        asks_for: Region keys, or vitals as ``vital:ID``, to look at again.
        corrections: What should read otherwise in the record, with what it reads.
        erased: Names of the owner's details that were erased beside the exam, as
            ``name`` and ``phone``, never what they said; the text is the reason.
    """

    note_id: str
    kind: NoteKind
    exam_id: str
    exam_hash: str
    author: Person
    written: Moment
    text: str = ""
    asks_for: tuple[str, ...] = ()
    is_demo: bool = False
    corrections: tuple[Correction, ...] = ()
    erased: tuple[str, ...] = ()
