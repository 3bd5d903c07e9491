"""The few fields of an exam that lists show and the review is ordered by.

An open exam's are made at every save, a closed one's alike by closing and import.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from exam_app.domain.exam.closing import gaps_among
from exam_app.domain.exam.exam import Exam, keys_in_scope
from exam_app.domain.exam.findings import Call
from exam_app.domain.exam.handling import reactions_of
from exam_app.domain.exam.review import progress
from exam_app.domain.exam.urgent import AnswerKind
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.headline import found_line, headline_of
from exam_app.domain.wording.written_record import title
from exam_app.language.catalogue import in_english
from exam_app.store.engine.documents import decode_document, read_row

URGENT_NOT_TOLD = "urgent not told"
URGENT = "urgent"
REACTIONS = "reactions"
# Rows of a kind that stay read, so that lists do not read them again.
MOST_READ = 4096
Pairs = tuple[tuple[str, str], ...]
_OUTSIDE = (FlagLevel.BELOW, FlagLevel.ABOVE)
_REACHED = (AnswerKind.TOLD, AnswerKind.AM_VETERINARIAN)
_LEFT_FOR_VETERINARIAN = "for the veterinarian"


@dataclass(frozen=True, slots=True)
class OpenExam:
    """What lists show of an exam that is not closed.

    Attributes:
        started, changed: Date and time in words; of its begin and of its last save.
        examined, total: Parts answered, of how many.
        scope, setting: As the exam's own words for them.
        person_id: Of the one who began it.
        bite: The bite or rabies concern in words; empty when there is none.
        group_exam: Of the group's exam whose round this belongs to; empty otherwise.
        continues: Of the record it continues; empty otherwise.
        revision: Above 0 in a correction of a closed record.
        reactions: How the animal answered to the hands: a part's key, and the words.
        found: The first things found, in one line; empty in a row of an earlier
            version until its next save.
        discarded: When and by whom it was discarded; empty while it is open.
    """

    exam_id: str
    animal_id: str = ""
    name: str = ""
    species: str = ""
    started: str = ""
    changed: str = ""
    examined: int = 0
    total: int = 0
    scope: str = ""
    setting: str = ""
    person_id: str = ""
    bite: str = ""
    group_exam: str = ""
    is_group: bool = False
    continues: str = ""
    revision: int = 0
    reactions: Pairs = ()
    found: str = ""
    discarded: str = ""

    @in_english()
    def completed(self, exam: Exam) -> "OpenExam":
        """Return it with what rows of earlier versions did not hold."""
        return replace(
            self,
            setting=exam.setting.value,
            bite=concern_of(exam),
            group_exam=exam.group_exam,
            is_group=exam.animal.is_group,
            continues=exam.continues,
            revision=exam.revision,
            reactions=reaction_pairs(exam),
        )


_ROW_FIELDS = tuple(field.name for field in fields(OpenExam))
_MAY_LACK = frozenset({"found", "discarded"})


def open_exam_of_row(row: Mapping[str, Any]) -> OpenExam:
    """Return what a stored row holds; what it lacks is as in an exam without it."""
    return read_row(OpenExam, row)


def is_whole_row(row: Mapping[str, Any]) -> bool:
    """Whether a stored row has every field; those of earlier versions have fewer."""
    return all(row.get(name) is not None for name in set(_ROW_FIELDS) - _MAY_LACK)


def read_open_exam(exam_id: str, stored: bytes) -> tuple[OpenExam, bool]:
    """Read a stored row, and say whether it has every field; see ``is_whole_row``."""
    row = decode_document(stored) if stored else {}
    return open_exam_of_row({**row, "exam_id": exam_id}), is_whole_row(row)


@in_english()
def open_projection(exam: Exam, protocol: SpeciesProtocol, changed: Moment) -> OpenExam:
    """Return what lists show of an open exam.

    Args:
        protocol: The one it names.
        changed: When it was changed last.
    """
    done, total = progress(exam, protocol)
    shown = OpenExam(
        exam.exam_id,
        exam.animal.animal_id,
        exam.animal.name,
        exam.animal.species,
        exam.started.date_and_time(),
        changed.date_and_time(),
        done,
        total,
        exam.scope.value,
        person_id=exam.started_by,
        found=found_line(exam, protocol),
    )
    return shown.completed(exam)


def reaction_pairs(exam: Exam) -> Pairs:
    """Return the reactions an exam tells of, as rows hold them."""
    return tuple((one.key, one.text) for one in reactions_of(exam))


def pairs_of(row: Mapping[str, Any]) -> Pairs | None:
    """Return the reactions a stored row holds; None in one of an earlier version."""
    held = row.get(REACTIONS)
    return None if held is None else tuple((key, text) for key, text in held)


@dataclass(frozen=True, slots=True)
class KnownAnimal:
    """What lists show of an animal known here.

    Attributes:
        dangers: What can hurt the examiner, as typed.
        has_owner: Whether anything of an owner is kept beside it.
    """

    animal_id: str
    name: str = ""
    species: str = ""
    tag: str = ""
    chip: str = ""
    place: str = ""
    dangers: str = ""
    is_group: bool = False
    has_owner: bool = False


_ANIMAL_TEXTS = ("animal_id", "name", "species", "tag", "chip", "place", "dangers")


def read_animal(stored: bytes) -> KnownAnimal:
    """Read a stored animal; what it lacks is empty."""
    row = decode_document(stored)["animal"]
    owner = row.get("owner")
    has_owner = bool(owner) and any(
        said for name, said in owner.items() if name != "version"
    )
    texts = [row.get(name) or "" for name in _ANIMAL_TEXTS]
    if not {str}.issuperset(map(type, texts)):
        return read_row(KnownAnimal, row, has_owner=has_owner)
    # As ``read_row`` would, in a fourth of the time: a clinic lists thousands.
    animal_id, name, species, tag, chip, place, dangers = texts
    is_group = bool(row.get("is_group"))
    return KnownAnimal(
        animal_id, name, species, tag, chip, place, dangers, is_group, has_owner
    )


def concern_of(exam: Exam) -> str:
    """Return an exam's bite or rabies concern in words; empty when there is none."""
    return exam.bite.concern if exam.bite else ""


@dataclass(frozen=True, kw_only=True)
class ClosedExam:
    """What lists show of a closed exam, in the order in which the store keeps it.

    Attributes:
        started, closed, received: Date and time in words; of arrival here the last,
            empty in a record of this device.
        closed_by, closed_role, person_id: Who closed it.
        headline: Its findings in the order of the review.
        gaps, to_look, flags: How many parts nobody examined, findings are left for a
            veterinarian, and values are outside a range.
        urgency: As ``urgency`` says.
        bite: The bite or rabies concern in words; empty when there is none.
        reactions: As an open exam's; ``None`` in a row of an earlier version.
        record_hash: SHA-256 of the signed bytes, in hexadecimal.
        device_id, key_id: Of the device that closed it, and of its key.
        is_fork: Another version revises the same record.
        pressing: What presses, in the finding's own words; ``None`` in a record of
            this device and in a row of an earlier version.
        acknowledged_by: Who acknowledged it; empty while nobody has.
    """

    animal_id: str = ""
    name: str = ""
    species: str = ""
    scope: str = ""
    title: str = ""
    started: str = ""
    closed: str = ""
    closed_by: str = ""
    closed_role: str = ""
    person_id: str = ""
    headline: tuple[str, ...] = ()
    gaps: int = 0
    is_urgent: bool = False
    urgency: str = ""
    to_look: int = 0
    flags: int = 0
    bite: str = ""
    reactions: Pairs | None = None
    setting: str = ""
    continues: str = ""
    group_exam: str = ""
    record_hash: str = ""
    device_id: str = ""
    key_id: str = ""
    is_demo: bool = False
    is_received: bool = False
    received: str = ""
    revision: int = 0
    parent_hash: str = ""
    is_fork: bool = False
    pressing: tuple[str, ...] | None = None
    exam_id: str
    acknowledged_by: str = ""

    def to_row(self) -> dict[str, Any]:
        """Return it as the store keeps it, a record of this device in fewer fields."""
        is_revision = bool(self.revision or self.is_fork)
        is_kept = {
            "is_received": self.is_received,
            "received": self.is_received,
            "revision": self.is_received or is_revision,
            "parent_hash": self.is_received or is_revision,
            "is_fork": self.is_received and is_revision,
            "pressing": self.pressing is not None,
            "acknowledged_by": bool(self.acknowledged_by),
        }
        names = ((key, f) for key, f in _STORED.items() if is_kept.get(f, True))
        return {key: getattr(self, field) for key, field in names}

    def as_received(self, when: str, *, is_fork: bool) -> "ClosedExam":
        """Return it as a record that came here, at this date and time in words."""
        came = {"is_received": True, "received": when, "is_fork": is_fork}
        return _row_of({**vars(self), **came})


_STORED = {
    "hash" if field.name == "record_hash" else field.name: field.name
    for field in fields(ClosedExam)
}


def read_closed_exam(stored: bytes) -> ClosedExam:
    """Read a stored row; what it lacks is as in an exam without it."""
    row = decode_document(stored)
    row["record_hash"] = row.pop("hash", "")
    row["headline"] = tuple(row.get("headline", ()))
    row[REACTIONS] = pairs_of(row)
    if row.get("pressing") is not None:
        row["pressing"] = tuple(row["pressing"])
    # Earlier versions kept the parts themselves, not how many there are.
    for name in ("gaps", "to_look", "flags"):
        if isinstance(row.get(name), list):
            row[name] = len(row[name])
    return _row_of(row)


def _row_of(fields_of_row: Mapping[str, Any]) -> ClosedExam:
    # ``__init__`` takes as long as reading the row, and lists read thousands.
    shown = object.__new__(ClosedExam)
    vars(shown).update(fields_of_row)
    return shown


@in_english()
def closed_projection(
    exam: Exam,
    protocol: SpeciesProtocol,
    exam_hash: str,
    device_id: str,
    key_id: bytes,
    pressing: tuple[str, ...] | None = None,
) -> ClosedExam:
    """Return what lists show of a closed exam.

    Args:
        exam: Closed.
        protocol: The one it names.
        exam_hash: SHA-256 of the signed bytes, in hexadecimal.
        device_id: Of the device that closed it.
        key_id: 16-byte id of the key that signed it.
        pressing: What presses, of a record that is kept with it.
    """
    closer = exam.person(exam.closing.closed_by) if exam.closing else None
    asked = keys_in_scope(exam, protocol)
    left = gaps_among(exam, protocol, asked)
    return ClosedExam(
        animal_id=exam.animal.animal_id,
        name=exam.animal.name,
        species=exam.animal.species,
        scope=exam.scope.value,
        title=title(exam, protocol),
        started=exam.started.date_and_time(),
        closed=exam.closing.at.date_and_time() if exam.closing else "",
        closed_by=closer.name if closer else "",
        closed_role=closer.role.value if closer else "",
        person_id=exam.closing.closed_by if exam.closing else "",
        headline=headline_of(exam, protocol, asked, left),
        gaps=len(left),
        is_urgent=bool(exam.urgent),
        urgency=urgency(exam),
        to_look=left_to_look(exam),
        flags=outside_ranges(exam),
        bite=concern_of(exam),
        reactions=reaction_pairs(exam),
        setting=exam.setting.value,
        continues=exam.continues,
        group_exam=exam.group_exam,
        record_hash=exam_hash,
        device_id=device_id,
        key_id=key_id.hex(),
        is_demo=exam.is_demo,
        revision=exam.revision,
        parent_hash=exam.parent_hash,
        pressing=pressing,
        exam_id=exam.exam_id,
    )


def urgency(exam: Exam) -> str:
    """Return ``urgent not told``, ``urgent``, or empty.

    Not told: at least one sign of which no veterinarian was told; one who was only
    tried and not reached does not know.
    """
    if not exam.urgent:
        return ""
    known = [any(a.kind in _REACHED for a in sign.answers) for sign in exam.urgent]
    return URGENT if all(known) else URGENT_NOT_TOLD


def left_to_look(exam: Exam) -> int:
    """Count what was left for a veterinarian: findings so called, parts so given."""
    said = [e for e in exam.regions.values() if e.findings or e.reason]
    calls = [finding.call for entry in said for finding in entry.findings]
    given = sum(entry.reason.endswith(_LEFT_FOR_VETERINARIAN) for entry in said)
    return calls.count(Call.VETERINARIAN_TO_LOOK) + given


def outside_ranges(exam: Exam) -> int:
    """Count the vitals whose flag, as signed, says below or above."""
    flags = (vital.flag for vital in exam.vitals.values())
    return sum(flag is not None and flag.level in _OUTSIDE for flag in flags)
