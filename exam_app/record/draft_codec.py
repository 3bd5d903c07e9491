"""The plain, JSON-able form of drafts, animals, people and owners.

The store keeps these dicts; a field at its default is left out. A dict of a newer
version is refused. Fields this version does not know survive when the stored form is
given to the call that replaces it::

    drafts.put(exam_id, exam_to_plain(exam, before=drafts.get(exam_id)))
"""

from collections.abc import Mapping
from typing import Any, TypeVar

from exam_app.domain.animal.signalment import Animal, Owner
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.record.carried_fields import carry_unknown
from exam_app.record.errors import DraftDamagedError, RecordTooNewError
from exam_app.record.plain_form import structure, unstructure

DRAFT_VERSION = 1
Plain = dict[str, Any]
_T = TypeVar("_T")


def exam_to_plain(exam: Exam, before: Mapping[str, Any] | None = None) -> Plain:
    """Return the plain form of an exam, open or closed.

    Args:
        before: The stored form this one replaces; its unknown fields are kept.
    """
    return _to_plain(exam, before)


def exam_from_plain(plain: Mapping[str, Any]) -> Exam:
    """Return the exam a plain form holds.

    Raises:
        RecordTooNewError: A newer version wrote it.
        DraftDamagedError: It is not the plain form of an exam; carries every fault.
    """
    return _from_plain(plain, Exam)


def animal_to_plain(animal: Animal, before: Mapping[str, Any] | None = None) -> Plain:
    """Return the plain form of an animal; unknown fields of ``before`` are kept."""
    return _to_plain(animal, before)


def animal_from_plain(plain: Mapping[str, Any]) -> Animal:
    """Return the animal a plain form holds; raises like ``exam_from_plain``."""
    return _from_plain(plain, Animal)


def person_to_plain(person: Person, before: Mapping[str, Any] | None = None) -> Plain:
    """Return the plain form of a person; unknown fields of ``before`` are kept."""
    return _to_plain(person, before)


def person_from_plain(plain: Mapping[str, Any]) -> Person:
    """Return the person a plain form holds; raises like ``exam_from_plain``."""
    return _from_plain(plain, Person)


def owner_to_plain(owner: Owner, before: Mapping[str, Any] | None = None) -> Plain:
    """Return the plain form of an owner; unknown fields of ``before`` are kept."""
    return _to_plain(owner, before)


def owner_from_plain(plain: Mapping[str, Any]) -> Owner:
    """Return the owner a plain form holds; raises like ``exam_from_plain``."""
    return _from_plain(plain, Owner)


def _to_plain(value: Any, before: Mapping[str, Any] | None) -> Plain:  # noqa: ANN401
    plain = unstructure(value)
    if before is not None:
        carried = carry_unknown(type(value), plain, dict(before))
        assert isinstance(carried, dict)  # noqa: S101 - a dataclass stays a dict
        plain = carried
    plain["version"] = DRAFT_VERSION
    return plain


def _from_plain(plain: object, kind: type[_T]) -> _T:
    if not isinstance(plain, Mapping):
        raise DraftDamagedError(("no fields at all",))
    version = plain.get("version")
    if type(version) is not int or version < 1:
        raise DraftDamagedError(("it says no version",))
    if version > DRAFT_VERSION:
        raise RecordTooNewError(version)
    return structure(dict(plain), kind)
