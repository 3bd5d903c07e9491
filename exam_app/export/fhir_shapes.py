"""The small shapes every exported resource is made of.

Every id follows from the exam's own id, the hash of its signed bytes and a name, so
that the same record gives the same bytes on every machine and at every hour.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from typing import Any
from uuid import UUID, uuid5

from exam_app.domain.exam.exam import Correction, Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.region_wording import marks_of

Resource = dict[str, Any]

URI = "urn:ietf:rfc:3986"
# Our own identifiers belong to no server, so their system is a URN and no address.
OWN = "urn:uuid:17866bd6-d795-4c12-994d-06874c3a0934"
DEMO_WORDS = "DEMO: an invented patient, no real animal"


@dataclass(frozen=True, slots=True)
class Exported:
    """One closed exam on its way out.

    Attributes:
        exam_hash: SHA-256 of the signed bytes, in hexadecimal.
        beside: What signed notes say should read otherwise.
    """

    exam: Exam
    protocol: SpeciesProtocol
    exam_hash: str
    beside: tuple[Correction, ...] = ()

    def corrected(self, item: str) -> list[Resource]:
        """Return what was corrected of an item as a note beside its value."""
        mark = marks_of(self.exam, self.beside).get(item)
        return [{"text": mark}] if mark else []

    @property
    def status(self) -> str:
        """``final``, or ``amended`` for a later revision."""
        return "amended" if self.exam.revision else "final"

    def id_of(self, name: str) -> str:
        """Return the id of the resource of that name."""
        return str(uuid5(UUID(self.exam.exam_id), f"{self.exam_hash}/{name}"))

    def reference(self, name: str) -> Resource:
        """Point to the resource of that name within the bundle."""
        return {"reference": f"urn:uuid:{self.id_of(name)}"}

    def subject(self) -> Resource:
        """Point to the animal, or to the group of animals."""
        return self.reference("subject")

    def person(self, person_id: str) -> Resource:
        """Point to a person; one the exam does not name is given by id alone."""
        if self.exam.person(person_id) is None:
            return {"display": person_id}
        return self.reference(f"person/{person_id}")

    def seen(self, by: Attribution | None, *, was_done: bool = True) -> Resource:
        """Say when something was seen and, if it was done, by whom."""
        if by is None:
            return {"effectiveDateTime": when(self.exam.started)}
        if not was_done:
            return {"effectiveDateTime": when(by.observed)}
        return {
            "effectiveDateTime": when(by.observed),
            "performer": [self.person(by.examined_by)],
        }

    def resource(self, kind: str, name: str) -> Resource:
        """Begin a resource; one of a demonstration says so in its ``meta``."""
        meta = demo_meta() if self.exam.is_demo else {}
        return {"resourceType": kind, "id": self.id_of(name), "meta": meta}


def demo_meta() -> Resource:
    """Label test data: HTEST of HL7's v3-ActReason, and in words."""
    system = "http://terminology.hl7.org/CodeSystem/v3-ActReason"
    return {
        "security": [coding(system, "HTEST", "test health data")],
        "tag": [coding(OWN, "demo", DEMO_WORDS)],
    }


def coding(system: str, code: str, display: str) -> Resource:
    """Return one code of a code system."""
    return {"system": system, "code": code, "display": display}


def concept(text: str, *codings: Resource) -> Resource:
    """Return words, with the codes that mean the same."""
    return {"coding": list(codings), "text": text}


def when(moment: Moment) -> str:
    """Return a time with its offset, to the millisecond."""
    return moment.local().isoformat(timespec="milliseconds")


def narrative(
    paragraphs: Iterable[str], items: Iterable[str] = (), status: str = "additional"
) -> Resource:
    """Return text as XHTML: paragraphs, then a list.

    Args:
        status: ``additional`` where the words say more than the coded parts do.
    """
    said = "".join(f"<p>{_xhtml(line)}</p>" for line in paragraphs if line)
    lines = "".join(f"<li>{_xhtml(line)}</li>" for line in items)
    listed = f"<ul>{lines}</ul>" if lines else ""
    div = f'<div xmlns="http://www.w3.org/1999/xhtml">{said}{listed}</div>'
    return {"status": status, "div": div}


def tidy(resource: Resource) -> Resource:
    """Drop what is empty and every character FHIR text may not hold.

    FHIR has no empty text, list or object; control characters are not allowed in it
    nor in XHTML, and stand as U+FFFD so that nothing vanishes unseen.
    """
    return {
        key: part
        for key, value in resource.items()
        if not _is_empty(part := _tidied(value))
    }


def _tidied(value: object) -> object:
    if isinstance(value, str):
        return "".join(map(_allowed, value)).strip()
    if isinstance(value, dict):
        return tidy(value)
    if isinstance(value, list):
        return [part for part in map(_tidied, value) if not _is_empty(part)]
    return value


def _is_empty(value: object) -> bool:
    return value is None or value in ("", [], {})


def _allowed(character: str) -> str:
    is_control = character < " " and character not in "\t\n\r"
    is_barred = is_control or "\x7f" <= character <= "\x9f"
    is_half = "\ud800" <= character <= "\udfff" or character in "\ufffe\uffff"
    return "\ufffd" if is_barred or is_half else character


def _xhtml(line: str) -> str:
    return escape(line, quote=False)
