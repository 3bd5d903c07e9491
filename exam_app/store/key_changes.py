"""Which secrets open a head page, and changing its slots."""

import contextlib

from exam_app.crypto.door import DerivationBounds
from exam_app.store.errors import (
    KeyChangeUnsureError,
    MistypedRecoveryCodeError,
    WrongPassphraseError,
)
from exam_app.store.head import Head, HeadPage, Place, next_page
from exam_app.store.journal import Journal
from exam_app.store.key_slots import KeySlot, SlotKind, secret_bytes, unwrap_key


async def open_with_either(
    page: HeadPage, typed: str, bounds: DerivationBounds
) -> bytes:
    """Give the data key for the passphrase, or for the recovery code in its place.

    Raises:
        WrongPassphraseError: It opens nothing.
        WrongRecoveryCodeError: A well-formed code that opens nothing.
    """
    slot = page.slot(SlotKind.PASSPHRASE)
    secret = secret_bytes(SlotKind.PASSPHRASE, typed)
    try:
        return await unwrap_key(slot, secret, page.vault_id, bounds)
    except WrongPassphraseError as refusal:
        try:
            code = secret_bytes(SlotKind.RECOVERY_CODE, typed)
        except MistypedRecoveryCodeError:
            raise refusal from None
        slot = page.slot(SlotKind.RECOVERY_CODE)
        return await unwrap_key(slot, code, page.vault_id, bounds)


def replace_slots(head: Head, journal: Journal, slots: tuple[KeySlot, KeySlot]) -> None:
    """Write both pages with other slots.

    Raises:
        KeyChangeUnsureError: The disk failed; the old slots or the new ones count.
    """
    before = head.newest()
    mark = before.mark if journal.is_stopped() else journal.mark()
    place = Place(before.live, before.journal_id, mark)
    page = next_page(before, slots, place)
    try:
        head.write_older(page, journal.keys.data_key)
    except OSError as error:
        raise KeyChangeUnsureError("the disk failed in a key change") from error
    with contextlib.suppress(OSError):
        # The change counts already; the next opening repairs the other page.
        head.write_older(next_page(page), journal.keys.data_key)
