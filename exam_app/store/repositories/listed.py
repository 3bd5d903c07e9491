"""What is listed beside the journal, so that a large store is not read for a few rows.

A field is here that a screen looks documents up by; see ``engine/kept_lists.py``.
"""

import contextlib
from collections.abc import Mapping

from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import Entry
from exam_app.store.engine.journal import Journal
from exam_app.store.engine.kept_lists import (
    Listed,
    Pick,
    empty_lists,
    make_pages,
    write_lists,
)
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.errors import VaultError, save_refusal

HANDED_OVER = "handed_over"
# Records of this device for which the clinic has not signed.
NOT_RECEIVED = Pick(b'"is_received":true', "hash", HANDED_OVER, b'"state":"received"')
LISTED = {
    "animals": Listed(text=("find", "animal")),
    "closed": Listed(("exam_id", "animal_id", "group_exam"), pick=NOT_RECEIVED),
    "revised": Listed(("exam_id",)),
    "notes": Listed(("exam_id",)),
    "private_blocks": Listed(("exam_id",)),
}


def list_beside(
    file: SealedFile, journal: Journal, indexed: Mapping[str, Mapping[str, Entry]]
) -> None:
    """Make the lists of what the index of a journal holds.

    Where that fails there are none: all of the index is read, as without them.
    """
    with contextlib.suppress(OSError, ValueError, VaultError):
        if pages := make_pages(indexed, LISTED):
            write_lists(file, journal.keys, journal.index_tag, pages)


def list_anew(file: SealedFile, storage: SealedStorage) -> None:
    """Make the lists of a journal that was just written anew; the old ones go first.

    Raises:
        VaultError: The disk failed; there are no lists, or the old ones, which count
            for another journal.
    """
    try:
        empty_lists(file)
    except OSError as error:
        raise save_refusal(error) from error
    whole = {name: rows.entries for name, rows in storage.tables().items()}
    list_beside(file, storage.journal(), whole)
