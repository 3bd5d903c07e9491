"""Photographs of an open exam: the picture is kept first, then the exam names it.

So nothing names a picture that is not kept. What was kept and is named by nothing is
let go of when its exam is closed, dropped or deleted; until then a change may be taken
back.
"""

from contextlib import suppress

from exam_app.app.exam_editor import Edit, change_maker
from exam_app.app.maintenance.stored_exams import size_words
from exam_app.app.queries.kept_records import record_reader
from exam_app.app.session import Session
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.photographs import add_photo, change_photo, remove_photo
from exam_app.domain.exam.visit import Photo
from exam_app.language.catalogue import tr, tr_plural
from exam_app.record.errors import RecordError
from exam_app.record.jpeg import LARGEST_PICTURE
from exam_app.store.engine.files import OwnPlace
from exam_app.store.errors import PhotographMissingError, VaultError
from exam_app.store.repositories.photographs import PhotographRow, PhotographSpace
from exam_app.store.vault.vault import Vault


async def kept_picture(session: Session, sha256: str) -> bytes | None:
    """Give a picture; ``None`` where it is not here, or not whole."""
    photographs = session.vault.photographs
    try:
        return await session.read(lambda: photographs.get(sha256))
    except PhotographMissingError:
        return None


async def keep_picture(session: Session, exam_id: str, picture: bytes) -> PhotographRow:
    """Keep a prepared picture for an open exam, which does not name it yet.

    Raises:
        NotAPhotographError: It is no prepared picture; nothing was kept.
        NoRoomForPhotographError: What is left is kept for answers; nothing was kept.
        VaultError: The disk failed; nothing was kept.
    """
    await ask_room(session)
    photographs = session.vault.photographs
    return await session.write(lambda: photographs.add(exam_id, picture))


@change_maker
def named_in(exam: Exam, edit: Edit, row: PhotographRow, shows: Photo) -> Exam:
    """Name a picture that is kept, with what it shows."""
    photo = Photo(
        row.sha256,
        shows.caption.strip(),
        shows.key,
        shows.side,
        shows.finding_id,
        row.width,
        row.height,
        row.size,
        edit.by,
    )
    return add_photo(exam, edit.protocol, photo)


@change_maker
def described(exam: Exam, edit: Edit, photo: Photo) -> Exam:
    """Say otherwise what a photograph shows; of ``photo`` the hash says which."""
    return change_photo(exam, edit.protocol, photo)


@change_maker
def taken_out(exam: Exam, _edit: Edit, sha256: str) -> Exam:
    """Take a photograph out of an exam; an undo brings it back."""
    return remove_photo(exam, sha256)


def let_go(vault: Vault, exam_id: str) -> None:
    """Let go of pictures brought for an exam that none of its records names.

    For one that is not open any more: closed, or its correction signed or dropped.
    That is kept already, so that a disk that fails here fails nothing: what stays is
    only room. While one of its records cannot be read, nothing is let go of.
    """
    photographs = vault.photographs
    with suppress(VaultError, RecordError):
        if not any(exam_id in row.exam_ids for row in photographs.rows()):
            return
        read = record_reader(vault)
        kept = [read(exam_id, r.record_hash) for r in vault.closed.revisions(exam_id)]
        named = {one.sha256 for record in kept if record for one in record.exam.photos}
        photographs.settle(exam_id, named)


async def ask_room(session: Session) -> None:
    """Ask a place of its own, as a browser's, how much room it has."""
    if isinstance(session.opener, OwnPlace):
        room = await session.opener.room()
        is_known = room.used is not None and room.most is not None
        left = max(0, room.most - room.used) if is_known else None
        session.vault.photographs.note_left(left)


async def photograph_space(session: Session) -> PhotographSpace:
    """Say how much room the photographs take, and how much is left for more."""
    await ask_room(session)
    return await session.read(session.vault.photographs.space)


def space_words(space: PhotographSpace) -> str:
    """Say the same in a sentence or two."""
    said = tr_plural(
        "{count} photograph kept here, {size}.",
        "{count} photographs kept here, {size}.",
        space.count,
        size=size_words(space.used) if space.used else "0 kB",
    )
    if space.left is None:
        return said
    more = space.left // LARGEST_PICTURE
    if not more:
        left = tr("No room is left for another; answers go on being saved.")
    else:
        left = tr("Room for at least {count} more.", count=more)
    return f"{said} {left}"
