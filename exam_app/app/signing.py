"""Close an exam: the last check, the signature, and one save that holds both.

The order is what keeps it safe: the exam is closed as a value, signed and read back,
and stored in the same save that drops the draft. Whatever fails before that save
leaves the draft as it was.
"""

from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.photographs import let_go
from exam_app.app.queries.kept_records import read_kept
from exam_app.app.session import Session
from exam_app.app.typed_entries import UnsavedWordsError
from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.closing import close
from exam_app.domain.exam.corrections import close_correction
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.record.cose import key_id_of
from exam_app.record.plain_form import from_plain, to_plain
from exam_app.record.records import close_and_sign
from exam_app.record.salted_blocks import SALT_LENGTH
from exam_app.store.repositories.rows import closed_projection
from exam_app.store.vault.vault import Vault


async def close_and_keep(session: Session, editor: ExamEditor, closer: Person) -> None:
    """Close, sign and store an exam in which nothing is open.

    Raises:
        UnsavedWordsError: Something was typed and not saved; nothing was done.
        OpenPointsError: Something is open.
        RecordError: It could not be signed; the draft is as it was.
        VaultError: It could not be stored; the draft is as it was.
    """
    first = read_kept(
        session.vault, editor.exam.exam_id, editor.exam.parent_hash or None
    )

    def closed(exam: Exam, _edit: Edit) -> Exam:
        if exam.revision and first is not None:
            protocol = editor.protocol
            return close_correction(exam, first.exam, protocol, closer, editor.now())
        return close(exam, editor.protocol, closer, editor.now())

    async def keep(exam: Exam) -> None:
        await session.save(lambda: store_closed(session.vault, exam, editor.protocol))

    if session.typed.of_exam(editor.exam.exam_id):
        raise UnsavedWordsError
    await editor.finish(closed, keep)
    session.typed.forget_exam(editor.exam.exam_id)
    session.editors.pop(editor.exam.exam_id, None)


def store_closed(vault: Vault, exam: Exam, protocol: SpeciesProtocol) -> None:
    """Sign a closed exam and store it in the save that drops its draft."""
    owner, salt = owner_of(vault, exam), door.random_bytes(SALT_LENGTH)
    seed = vault.settings.get("signing_key")
    private_salt = door.random_bytes(SALT_LENGTH)
    signed = close_and_sign(exam, protocol, seed, owner, salt, private_salt)
    private = (signed.exam_hash, private_salt, signed.private_block)
    block = None if owner is None else (salt, to_plain(owner))
    key_id = key_id_of(door.signing_public_key(seed))
    device_id = vault.settings.get("device_id", "")
    shown = closed_projection(exam, protocol, signed.exam_hash, device_id, key_id)
    beside = private if signed.private_block else None
    vault.close_exam(shown, signed.signed, block, beside)
    let_go(vault, exam.exam_id)


def owner_of(vault: Vault, exam: Exam) -> Owner | None:
    """Return the owner details kept beside the animal, if there are any."""
    fields = vault.animals.get(exam.animal.animal_id) or {}
    plain = fields.get("owner")
    return from_plain(Owner, plain) if plain else None
