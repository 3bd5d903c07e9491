"""The head: two pages with the key slots and the place of the journal.

The page with the highest generation whose checksum fits counts. A change writes the
older page first and the newer one after it, each followed by a flush: a crash at any
moment leaves the old or the new slots, and afterwards no page still holds the old.
"""

import contextlib
import struct
from dataclasses import dataclass, replace

from exam_app.crypto.door import (
    DerivationBounds,
    hkdf_sha256,
    random_bytes,
    seal,
    sha256,
    unseal,
)
from exam_app.crypto.errors import WrongKeyError
from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import Mark
from exam_app.store.engine.journal import Journal
from exam_app.store.engine.keys import (
    SLOT_LENGTH,
    KeySlot,
    SlotKind,
    decode_slot,
    encode_slot,
    secret_bytes,
    unwrap_key,
)
from exam_app.store.errors import (
    KeyChangeUnsureError,
    MistypedRecoveryCodeError,
    VaultDamagedError,
    VaultTooNewError,
    WrongPassphraseError,
)

FORMAT_VERSION = 1
PAGE_LENGTH = 4096
MAGIC = b"exam-vault head\n"
# Stands in the first page until the second one says that the first state is whole.
BEGUN = b"exam-vault begun\n"
_FIXED = struct.Struct(">16sHQ16sB16sQQ16sB")
_CHECKSUM_LENGTH = 32
_SEAL_LENGTH = 12 + 16
_CLOSED = b"closed"
_SLOT_COUNT = len(SlotKind)
_USED_LENGTH = _FIXED.size + _SLOT_COUNT * SLOT_LENGTH


@dataclass(frozen=True, slots=True)
class Place:
    """Which journal counts, and what is known of it.

    Attributes:
        live: Its file: 0 is ``vault.a``, 1 ``vault.b``.
        journal_id: 16 random bytes, those in its header.
        mark: Where its index stands, and the newest frame known to be kept.
    """

    live: int
    journal_id: bytes
    mark: Mark


@dataclass(frozen=True, slots=True)
class HeadPage:
    """One page of key slots.

    Attributes:
        generation: Counts the pages ever written; at least one.
        vault_id: 16 random bytes, the same for the vault's whole life.
        place: Of the journal.
        slots: The passphrase slot, then the recovery slot.
        page_seal: Nonce and tag over the fields before it, 28 bytes; empty before
            the page is written.
        closing_seal: The same over them and the word that the vault was closed, 28
            bytes; zeros or empty where it was not, or where an older app wrote it.
    """

    generation: int
    vault_id: bytes
    place: Place
    slots: tuple[KeySlot, KeySlot]
    page_seal: bytes = b""
    closing_seal: bytes = b""

    def slot(self, kind: SlotKind) -> KeySlot:
        """Give the slot of that kind."""
        return self.slots[kind - 1]

    def agrees_with(self, other: "HeadPage") -> bool:
        """Whether both hold the same slots and the same journal."""
        place = replace(other.place, mark=self.place.mark)
        return (self.slots, self.place) == (other.slots, place)


class Head:
    """The two pages in their file; remembers what each of them holds.

    Attributes:
        is_unsure: Whether a write failed, so that the file may hold other pages.
    """

    __slots__ = ("_file", "_is_begun", "_pages", "is_unsure")

    def __init__(self, file: SealedFile) -> None:
        """Read both pages.

        Raises:
            VaultTooNewError: A whole page has a newer version.
            OSError: The file could not be read.
        """
        self._file = file
        self.is_unsure = False
        contents = (file.read_at(0, PAGE_LENGTH), file.read_at(PAGE_LENGTH, 4096))
        self._is_begun = contents[0].startswith(BEGUN)
        self._pages = [decode_page(content) for content in contents]

    def newest(self) -> HeadPage:
        """Give the page that counts.

        Raises:
            VaultDamagedError: No page is whole, or the two belong to two vaults.
        """
        whole = [page for page in self._pages if page]
        if not whole:
            raise VaultDamagedError("no whole page of key slots")
        if len({page.vault_id for page in whole}) > 1:
            raise VaultDamagedError("pages of two different vaults")
        return max(whole, key=lambda page: page.generation)

    def needs_repair(self) -> bool:
        """Whether the two pages do not hold the same slots and the same journal."""
        first, second = self._pages
        return first is None or second is None or not first.agrees_with(second)

    def has_damaged_page(self) -> bool:
        """Whether one of the pages is not whole, and was so once."""
        return None in self._pages and not self._is_begun

    def write_older(
        self, page: HeadPage, data_key: bytes, *, is_closing: bool = False
    ) -> None:
        """Write ``page`` over the older page and flush.

        Args:
            page: The next generation.
            data_key: Seals the page against mixed or edited slots.
            is_closing: Whether no save follows the page's mark before the next
                opening.

        Raises:
            OSError: The write or flush failed; the newer page is untouched.
        """
        generations = [page.generation if page else 0 for page in self._pages]
        # Of none, the second: the first holds what says that a vault is being made.
        older = 0 if generations[0] < generations[1] else 1
        content = encode_page(page, data_key, is_closing=is_closing)
        try:
            self._file.write_at(older * PAGE_LENGTH, content)
            self._file.flush()
        except OSError:
            self.is_unsure = True
            raise
        self._pages[older] = decode_page(content)

    def close(self) -> None:
        """Release the file."""
        self._file.close()


def next_page(
    page: HeadPage,
    slots: tuple[KeySlot, KeySlot] | None = None,
    place: Place | None = None,
) -> HeadPage:
    """Give the page that follows ``page``, with other slots or another place."""
    at, kept = place or page.place, slots or page.slots
    return HeadPage(page.generation + 1, page.vault_id, at, kept)


def encode_page(page: HeadPage, data_key: bytes, *, is_closing: bool = False) -> bytes:
    """Lay a page out in its 4 096 bytes, sealed and with its checksum."""
    used = _used_bytes(page)
    key = _page_key(data_key, page.vault_id)
    body = used + _seal_empty(key, used)
    if is_closing:
        body += _seal_empty(key, used + _CLOSED)
    padded = body.ljust(PAGE_LENGTH - _CHECKSUM_LENGTH, b"\0")
    return padded + sha256(padded)


def decode_page(content: bytes) -> HeadPage | None:
    """Read a page, checking in this order: length, magic, checksum, version, count.

    Returns:
        The page, not yet authenticated, or None where no whole page stands.

    Raises:
        VaultTooNewError: The page is whole and of a newer version.
        VaultDamagedError: The page is whole and makes no sense.
    """
    padded, checksum = content[:-_CHECKSUM_LENGTH], content[-_CHECKSUM_LENGTH:]
    if len(content) != PAGE_LENGTH or not content.startswith(MAGIC):
        return None
    if sha256(padded) != checksum:
        return None
    fields = _FIXED.unpack_from(padded)
    _, version, generation, vault_id, live, journal_id, *mark, count = fields
    if version > FORMAT_VERSION:
        raise VaultTooNewError("head page of a newer version")
    first, second = (
        decode_slot(padded[start : start + SLOT_LENGTH])
        for start in range(_FIXED.size, _USED_LENGTH, SLOT_LENGTH)
    )
    in_order = (first.kind, second.kind) == tuple(SlotKind)
    if not (version and generation and count == _SLOT_COUNT and in_order) or live > 1:
        raise VaultDamagedError("head page makes no sense")
    seals = padded[_USED_LENGTH : _USED_LENGTH + 2 * _SEAL_LENGTH]
    place = Place(live, journal_id, Mark(*mark))
    both = seals[:_SEAL_LENGTH], seals[_SEAL_LENGTH:]
    return HeadPage(generation, vault_id, place, (first, second), *both)


def check_page(page: HeadPage, data_key: bytes) -> None:
    """Authenticate a page with the data key that one of its slots gave.

    Raises:
        VaultDamagedError: The page was put together from others, or edited.
    """
    key = _page_key(data_key, page.vault_id)
    if not _is_seal_of(key, page.page_seal, _used_bytes(page)):
        raise VaultDamagedError("head page did not authenticate")


def was_closed(page: HeadPage, data_key: bytes) -> bool:
    """Whether the vault was closed with this page: its mark is the newest save."""
    key = _page_key(data_key, page.vault_id)
    return _is_seal_of(key, page.closing_seal, _used_bytes(page) + _CLOSED)


def _seal_empty(key: bytes, associated: bytes) -> bytes:
    nonce = random_bytes(12)
    return nonce + seal(key, nonce, b"", associated)


def _is_seal_of(key: bytes, found: bytes, associated: bytes) -> bool:
    if len(found) != _SEAL_LENGTH:
        return False
    try:
        unseal(key, found[:12], found[12:], associated)
    except WrongKeyError:
        return False
    return True


def _used_bytes(page: HeadPage) -> bytes:
    fixed = _FIXED.pack(
        MAGIC,
        FORMAT_VERSION,
        page.generation,
        page.vault_id,
        page.place.live,
        page.place.journal_id,
        *page.place.mark,
        len(page.slots),
    )
    return fixed + b"".join(encode_slot(slot) for slot in page.slots)


def _page_key(data_key: bytes, vault_id: bytes) -> bytes:
    return hkdf_sha256(data_key, vault_id, b"exam-vault head page v1", 32)


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
    mark = before.place.mark if journal.is_stopped else journal.mark()
    page = next_page(before, slots, replace(before.place, mark=mark))
    try:
        head.write_older(page, journal.keys.data_key)
    except OSError as error:
        raise KeyChangeUnsureError("the disk failed in a key change") from error
    with contextlib.suppress(OSError):
        # The change counts already; the next opening repairs the other page.
        head.write_older(next_page(page), journal.keys.data_key)
