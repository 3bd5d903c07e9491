"""Damage at rest: flips, cuts, swapped and replaced files. Nothing wrong is shown."""

import pytest

from exam_app.store.errors import NoVaultError, VaultDamagedError, VaultError
from exam_app.store.opening import KEYS_REPAIRED
from exam_app.store.two_slots import OLD_COPY, PREFIX, SKIPPED, TwoSlotBody
from exam_app.store.vault import create_vault, open_vault, vault_exists
from tests.store_disks import (
    CHEAP,
    TEST_BOUNDS,
    MemoryFile,
    fill_folder,
    folder_bytes,
    report,
    seeded,
)

KEY, VAULT_ID = bytes(range(32)), bytes(range(16))
STATES = (b"state one", b"state two " * 9, b"state three " * 40)


@pytest.fixture
def slots():
    files = (MemoryFile(), MemoryFile())
    body = TwoSlotBody(files, KEY, VAULT_ID)
    for state in STATES:
        body.save(state)
    return bytes(files[0].content), bytes(files[1].content)


def loaded(*contents):
    body = TwoSlotBody(tuple(map(MemoryFile, contents)), KEY, VAULT_ID)
    return body.load(), body.report


def flipped(content, position, mask):
    changed = bytearray(content)
    changed[position] ^= mask
    return bytes(changed)


def check_flips(slots, masks_of):
    newest, older = slots
    count = 0
    for position in range(len(newest)):
        for mask in masks_of():
            found = loaded(flipped(newest, position, mask), older)
            assert found == (STATES[1], SKIPPED)
            count += 1
    for position in range(len(older)):
        for mask in masks_of():
            found = loaded(newest, flipped(older, position, mask))
            assert found == (STATES[2], SKIPPED)
            count += 1
    return count


def test_flip_in_every_byte_of_a_saved_state_is_noticed(slots):
    rng = seeded(1)
    assert check_flips(slots, lambda: [rng.randrange(1, 256)]) > 700


@pytest.mark.exhaustive
def test_every_flip_of_every_byte_of_a_saved_state_is_noticed(slots, capsys):
    count = check_flips(slots, lambda: range(1, 256))
    report(capsys, f"{count} flips in saved states, 0 silent")


def test_saved_state_cut_or_lengthened_anywhere_is_noticed(slots):
    newest, older = slots
    for length in range(len(newest)):
        assert loaded(newest[:length], older) == (STATES[1], SKIPPED)
    for length in range(len(older)):
        assert loaded(newest, older[:length]) == (STATES[2], SKIPPED)
    for tail in (b"\0", b"x" * 600):
        assert loaded(newest + tail, older) == (STATES[1], SKIPPED)
        assert loaded(newest, older + tail) == (STATES[2], SKIPPED)


def test_two_damaged_states_are_refused_and_nothing_is_written(slots):
    rng = seeded(2)
    for _ in range(300):
        damaged = [
            flipped(slot, rng.randrange(len(slot)), rng.randrange(1, 256))
            if rng.random() < 0.7
            else slot[: rng.randrange(len(slot))]
            for slot in slots
        ]
        files = tuple(map(MemoryFile, damaged))
        with pytest.raises(VaultDamagedError):
            TwoSlotBody(files, KEY, VAULT_ID).load()
        assert [file.log for file in files] == [[], []]


def test_swapped_or_doubled_files_are_noticed(slots):
    newest, older = slots
    with pytest.raises(VaultDamagedError):
        loaded(older, newest)
    assert loaded(newest, newest) == (STATES[2], SKIPPED)
    assert loaded(older, older) == (STATES[1], SKIPPED)


def test_state_of_another_vault_or_key_is_refused(slots):
    files = tuple(map(MemoryFile, slots))
    for key, vault_id in ((bytes(32), VAULT_ID), (KEY, bytes(16))):
        with pytest.raises(VaultDamagedError):
            TwoSlotBody(files, key, vault_id).load()


def test_older_copy_of_one_file_is_reported(slots):
    files = tuple(map(MemoryFile, slots))
    body = TwoSlotBody(files, KEY, VAULT_ID)
    body.load()
    for number in range(4, 8):
        body.save(b"state %d" % number)
    # Number 7 stands in the first file, number 6 in the second.
    assert loaded(bytes(files[0].content), slots[1]) == (b"state 7", OLD_COPY)
    assert loaded(slots[0], bytes(files[1].content)) == (b"state 6", OLD_COPY)


def test_claimed_length_beyond_the_file_reads_nothing(slots):
    class CountingFile(MemoryFile):
        longest = 0

        def read_at(self, offset, length):
            self.longest = max(self.longest, length)
            return super().read_at(offset, length)

    newest, older = slots
    fields = list(PREFIX.unpack_from(newest))
    for claimed in (2**63, 2**31, len(newest), 0, 15):
        fields[4] = claimed
        file = CountingFile(PREFIX.pack(*fields) + newest[PREFIX.size :])
        body = TwoSlotBody((file, MemoryFile(older)), KEY, VAULT_ID)
        assert body.load() == STATES[1]
        assert file.longest <= len(newest)


@pytest.fixture
async def whole(tmp_path):
    vault, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    vault.settings.put("clinic", "Demo clinic")
    vault.settings.put("theme", "dark")
    vault.close()
    return folder_bytes(tmp_path / "v")


async def check_folder(folder, contents):
    """Open the folder; give its report, or the class of the refusal."""
    fill_folder(folder, contents)
    try:
        vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
    except VaultError as error:
        assert folder_bytes(folder) == contents
        return type(error)
    assert vault.settings.get("clinic") == "Demo clinic"
    assert vault.settings.get("theme") == "dark"
    vault.close()
    return vault.damage_report


async def check_head_flips(tmp_path, whole, positions, rng):
    for position in positions:
        head = flipped(whole["vault.head"], position, rng.randrange(1, 256))
        found = await check_folder(tmp_path / "f", whole | {"vault.head": head})
        assert found == KEYS_REPAIRED
        repaired = await check_folder(tmp_path / "f", folder_bytes(tmp_path / "f"))
        assert repaired is None


async def test_flip_in_the_head_is_noticed_and_repaired(tmp_path, whole):
    rng = seeded(3)
    used = [*range(0, 314, 7), *range(4096, 4096 + 314, 7), 4095, 8191]
    padding = [rng.randrange(8192) for _ in range(20)]
    await check_head_flips(tmp_path, whole, used + padding, rng)


@pytest.mark.exhaustive
async def test_flip_in_every_byte_of_the_head_is_repaired(tmp_path, whole, capsys):
    await check_head_flips(tmp_path, whole, range(8192), seeded(4))
    report(capsys, "8192 flips in the head, 0 silent, all repaired")


async def test_both_head_pages_damaged_is_refused_and_nothing_is_written(
    tmp_path, whole
):
    rng = seeded(5)
    for _ in range(40):
        head = flipped(whole["vault.head"], rng.randrange(4096), 1)
        head = flipped(head, 4096 + rng.randrange(4096), 1)
        found = await check_folder(tmp_path / "f", whole | {"vault.head": head})
        assert found is VaultDamagedError


async def test_head_cut_anywhere_opens_or_is_refused(tmp_path, whole):
    for length in (*range(0, 4096, 251), 4095, 4096, 4097, *range(5000, 8192, 251)):
        head = whole["vault.head"][:length]
        found = await check_folder(tmp_path / "f", whole | {"vault.head": head})
        assert found == (KEYS_REPAIRED if length >= 4096 else VaultDamagedError)


async def test_missing_files_are_never_taken_for_an_empty_folder(tmp_path, whole):
    for number, name in enumerate(whole):
        folder = tmp_path / str(number)
        fill_folder(folder, {key: whole[key] for key in whole if key != name})
        assert vault_exists(folder)
    without_head, without_newest = tmp_path / "2", tmp_path / "0"
    with pytest.raises(VaultDamagedError):
        await open_vault(without_head, "hoof", bounds=TEST_BOUNDS)
    vault = await open_vault(without_newest, "hoof", bounds=TEST_BOUNDS)
    assert vault.damage_report == SKIPPED
    assert vault.settings.get("clinic") == "Demo clinic"
    vault.close()


async def test_folder_without_a_vault_is_no_vault(tmp_path):
    assert not vault_exists(tmp_path / "none")
    assert not vault_exists(tmp_path)
    for folder in (tmp_path, tmp_path / "none"):
        with pytest.raises(NoVaultError):
            await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
    assert list(tmp_path.iterdir()) == []
