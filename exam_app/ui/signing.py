"""Close an exam: the last check, the signature, and one save that holds both.

The order is what keeps it safe: the exam is closed as a value, signed and read back,
and stored in the same save that drops the draft. Whatever fails before that save
leaves the draft as it was.
"""

from typing import TYPE_CHECKING, Any

from exam_app.crypto import door
from exam_app.domain.closing import close, gaps
from exam_app.domain.exam import Exam
from exam_app.domain.headline import headline
from exam_app.domain.people import Attribution, Person
from exam_app.domain.protocol import SpeciesProtocol
from exam_app.domain.signalment import Owner
from exam_app.domain.written_record import title
from exam_app.record.draft_codec import owner_from_plain, owner_to_plain
from exam_app.record.owners import SALT_LENGTH
from exam_app.record.records import SignedExam, close_and_sign
from exam_app.ui.bite_concerns import concern_of
from exam_app.ui.exam_desk import ExamDesk, NewId
from exam_app.ui.exam_room import forget

if TYPE_CHECKING:
    from exam_app.store.vault import Vault
    from exam_app.ui.tab import Tab


async def close_and_keep(tab: "Tab", desk: ExamDesk, closer: Person) -> None:
    """Close, sign and store an exam in which nothing is open.

    Raises:
        OpenPointsError: Something is open.
        RecordError: It could not be signed; the draft is as it was.
        VaultError: It could not be stored; the draft is as it was.
    """

    def closed(exam: Exam, _by: Attribution, _new_id: NewId) -> Exam:
        return close(exam, desk.protocol, closer, desk.now())

    async def keep(exam: Exam) -> None:
        await tab.save(lambda: store_closed(tab.vault, exam, desk.protocol))

    await desk.finish(closed, keep)
    forget(desk.exam.exam_id)


def store_closed(vault: "Vault", exam: Exam, protocol: SpeciesProtocol) -> None:
    """Sign a closed exam and store it in the save that drops its draft."""
    owner, salt = owner_of(vault, exam), door.random_bytes(SALT_LENGTH)
    seed = vault.settings.get("signing_key")
    signed = close_and_sign(exam, protocol, seed, owner, salt)
    block = None if owner is None else (salt, owner_to_plain(owner))
    shown = closed_projection(exam, protocol, signed)
    vault.close_exam(exam.exam_id, signed.signed, shown, block)


def owner_of(vault: "Vault", exam: Exam) -> Owner | None:
    """Return the owner details kept beside the animal, if there are any."""
    fields = vault.animals.get(exam.animal.animal_id) or {}
    plain = fields.get("owner")
    return owner_from_plain(plain) if plain else None


def closed_projection(
    exam: Exam, protocol: SpeciesProtocol, signed: SignedExam
) -> dict[str, Any]:
    """Return the few fields of a closed exam that lists show."""
    closer = exam.person(exam.closing.closed_by) if exam.closing else None
    return {
        "animal_id": exam.animal.animal_id,
        "name": exam.animal.name,
        "species": exam.animal.species,
        "scope": exam.scope.value,
        "title": title(exam, protocol),
        "started": exam.started.date_and_time(),
        "closed": exam.closing.at.date_and_time() if exam.closing else "",
        "closed_by": closer.name if closer else "",
        "person_id": exam.closing.closed_by if exam.closing else "",
        "headline": list(headline(exam, protocol)),
        "gaps": len(gaps(exam, protocol)),
        "is_urgent": bool(exam.urgent),
        "bite": concern_of(exam),
        "setting": exam.setting.value,
        "continues": exam.continues,
        "hash": signed.exam_hash,
        "is_demo": exam.is_demo,
    }
