"""Passphrase and recovery code: what opens, what does not, and what is touched."""

import asyncio
import io
import sys
import unicodedata
from contextlib import closing

import pytest

from exam_app.__main__ import Costs, main
from exam_app.app.view.passphrase_note import passphrase_problem
from exam_app.crypto.door import KeyDerivation
from exam_app.crypto.errors import BadParametersError
from exam_app.store.engine.files import LocalFile
from exam_app.store.engine.keys import SLOT_LENGTH
from exam_app.store.engine.read_files import MemoryPart
from exam_app.store.errors import (
    EmptyPassphraseError,
    KeyChangeUnsureError,
    MistypedRecoveryCodeError,
    PassphraseTooLongError,
    VaultDamagedError,
    VaultExistsError,
    WrongPassphraseError,
    WrongRecoveryCodeError,
)
from exam_app.store.vault.folder import create_vault, vault_exists
from exam_app.store.vault.open import (
    open_vault,
    open_vault_to_read,
    open_vault_with_recovery_code,
)
from exam_app.store.vault.restore import Secrets, restore_vault, salvage_vault
from tests.store_disks import (
    CHEAP,
    TEST_BOUNDS,
    FaultyDisk,
    fill_folder,
    folder_bytes,
)


@pytest.fixture
async def closed(tmp_path):
    """A closed vault and its recovery code."""
    vault, code = await create_vault(
        tmp_path, "hoof and paw", CHEAP, bounds=TEST_BOUNDS
    )
    vault.settings.put("clinic", "Demo clinic")
    vault.close()
    return tmp_path, code


@pytest.mark.parametrize(
    "wrong", ["hoof and paW", "hoof and paw ", " hoof and paw", "hoof", "x" * 1024]
)
async def test_wrong_passphrase_touches_nothing(closed, wrong):
    folder, _ = closed
    before = folder_bytes(folder)
    with pytest.raises(WrongPassphraseError):
        await open_vault(folder, wrong, bounds=TEST_BOUNDS)
    assert folder_bytes(folder) == before
    vault = await open_vault(folder, "hoof and paw", bounds=TEST_BOUNDS)
    assert folder_bytes(folder) == before
    vault.close()


@pytest.fixture
def no_derivation(monkeypatch):
    async def refused(*_):
        raise AssertionError("a key was derived")

    monkeypatch.setattr("exam_app.store.engine.keys.derive_key", refused)


@pytest.mark.parametrize("length", [1025, 5_000_000])
async def test_passphrase_beyond_its_limit_is_refused_before_a_key_is_derived(
    closed, no_derivation, length, tmp_path
):
    folder, _ = closed
    before, long = folder_bytes(folder), "four quiet words " * (length // 17 + 1)
    long = long[:length]
    secrets = Secrets("hoof and paw", long, CHEAP, TEST_BOUNDS)
    for asked in (
        open_vault(folder, long, bounds=TEST_BOUNDS),
        open_vault_to_read(folder, long, bounds=TEST_BOUNDS),
        open_vault_with_recovery_code(folder, long, bounds=TEST_BOUNDS),
        create_vault(tmp_path / "new", long, CHEAP, bounds=TEST_BOUNDS),
        restore_vault(MemoryPart(), tmp_path / "new", secrets),
        salvage_vault(folder, tmp_path / "new", secrets),
    ):
        with pytest.raises(PassphraseTooLongError):
            await asked
    assert not (tmp_path / "new").exists()
    assert folder_bytes(folder) == before
    assert "at most 1024 characters" in passphrase_problem(long, long)


@pytest.mark.parametrize("command", ["backup", "restore", "salvage", "receive"])
def test_commands_read_no_more_of_a_line_than_shows_that_it_is_too_long(
    tmp_path, monkeypatch, capsys, command
):
    async def fill():
        vault, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
        with closing(LocalFile(tmp_path / "exams.backup")) as file:
            vault.back_up(file)
        vault.close()

    asyncio.run(fill())
    typed = io.StringIO("x" * 5_000_000 + "\n")
    monkeypatch.setattr(sys, "stdin", typed)
    source = {"backup": "new.backup", "restore": "exams.backup", "salvage": "v"}
    data = {"backup": "v", "receive": "v"}.get(command, "new")
    named = tmp_path / source.get(command, "exams.backup")
    code = main(
        [command, str(named), "--data", str(tmp_path / data)], Costs(CHEAP, TEST_BOUNDS)
    )
    assert code == 1
    assert "at most 1024 characters" in capsys.readouterr().err
    assert typed.tell() < 3000


async def test_empty_passphrase_is_refused_everywhere(closed):
    folder, _ = closed
    with pytest.raises(EmptyPassphraseError):
        await open_vault(folder, "", bounds=TEST_BOUNDS)
    with pytest.raises(EmptyPassphraseError):
        await create_vault(folder / "new", "", CHEAP, bounds=TEST_BOUNDS)
    assert not (folder / "new").exists()
    vault = await open_vault(folder, "hoof and paw", bounds=TEST_BOUNDS)
    with pytest.raises(EmptyPassphraseError):
        await vault.change_passphrase("hoof and paw", "")
    vault.close()


async def test_passphrase_typed_on_another_keyboard_opens(tmp_path):
    composed = unicodedata.normalize("NFC", "Hündin\u00a0läuft")
    decomposed = unicodedata.normalize("NFD", "Hündin läuft")
    assert composed != decomposed
    vault, _ = await create_vault(tmp_path, composed, CHEAP, bounds=TEST_BOUNDS)
    vault.close()
    (await open_vault(tmp_path, decomposed, bounds=TEST_BOUNDS)).close()


async def test_recovery_code_opens_in_place_of_the_passphrase(closed):
    folder, code = closed
    typed = code.lower().replace("-", " ")
    vault = await open_vault_with_recovery_code(folder, typed, bounds=TEST_BOUNDS)
    assert vault.settings.get("clinic") == "Demo clinic"
    await vault.confirm_passphrase(code)
    await vault.change_passphrase(code, "new words")
    vault.close()
    (await open_vault(folder, "new words", bounds=TEST_BOUNDS)).close()
    with pytest.raises(WrongPassphraseError):
        await open_vault(folder, "hoof and paw", bounds=TEST_BOUNDS)


async def test_mistyped_and_foreign_recovery_codes_are_told_apart(closed, tmp_path):
    folder, code = closed
    before = folder_bytes(folder)
    mistyped = ("1" if code[0] != "1" else "2") + code[1:]
    with pytest.raises(MistypedRecoveryCodeError):
        await open_vault_with_recovery_code(folder, mistyped, bounds=TEST_BOUNDS)
    other, foreign = await create_vault(
        tmp_path / "other", "hoof", CHEAP, bounds=TEST_BOUNDS
    )
    other.close()
    with pytest.raises(WrongRecoveryCodeError):
        await open_vault_with_recovery_code(folder, foreign, bounds=TEST_BOUNDS)
    assert {name: folder_bytes(folder)[name] for name in before} == before


async def test_replaced_recovery_code_stops_working(closed):
    folder, code = closed
    vault = await open_vault(folder, "hoof and paw", bounds=TEST_BOUNDS)
    new = await vault.replace_recovery_code()
    vault.close()
    assert new != code
    with pytest.raises(WrongRecoveryCodeError):
        await open_vault_with_recovery_code(folder, code, bounds=TEST_BOUNDS)
    (await open_vault_with_recovery_code(folder, new, bounds=TEST_BOUNDS)).close()
    (await open_vault(folder, "hoof and paw", bounds=TEST_BOUNDS)).close()


async def test_changing_the_passphrase_asks_for_the_old_one(closed):
    folder, _ = closed
    vault = await open_vault(folder, "hoof and paw", bounds=TEST_BOUNDS)
    before = folder_bytes(folder)
    with pytest.raises(WrongPassphraseError):
        await vault.change_passphrase("wrong", "new words")
    with pytest.raises(WrongPassphraseError):
        await vault.confirm_passphrase("wrong")
    assert folder_bytes(folder) == before
    vault.close()


async def test_after_a_change_no_page_holds_the_old_slot(closed):
    folder, _ = closed
    vault = await open_vault(folder, "hoof and paw", bounds=TEST_BOUNDS)
    old = vault._files.head.newest().slots[0]
    await vault.change_passphrase("hoof and paw", "new words")
    vault.close()
    head = (folder / "vault.head").read_bytes()
    assert old.wrapped not in head
    assert old.salt not in head


async def test_creating_over_a_vault_is_refused_and_touches_nothing(closed):
    folder, _ = closed
    before = folder_bytes(folder)
    with pytest.raises(VaultExistsError):
        await create_vault(folder, "other", CHEAP, bounds=TEST_BOUNDS)
    assert folder_bytes(folder) == before


async def test_saved_states_without_their_head_are_not_overwritten(closed):
    folder, _ = closed
    (folder / "vault.head").unlink()
    before = folder_bytes(folder)
    assert vault_exists(folder)
    with pytest.raises(VaultExistsError):
        await create_vault(folder, "other", CHEAP, bounds=TEST_BOUNDS)
    assert folder_bytes(folder) == before


async def test_costs_outside_the_bounds_are_refused_before_any_work(closed):
    folder, _ = closed
    with pytest.raises(VaultDamagedError):
        await open_vault(folder, "hoof and paw")
    with pytest.raises(BadParametersError):
        await create_vault(folder / "new", "hoof", CHEAP)
    with pytest.raises(BadParametersError):
        await create_vault(folder / "new", "hoof", KeyDerivation(2**30, 3, 1))
    assert not (folder / "new").exists()


async def test_slot_taken_from_an_older_head_is_refused(tmp_path):
    vault, _ = await create_vault(tmp_path / "v", "old", CHEAP, bounds=TEST_BOUNDS)
    old_head = (tmp_path / "v" / "vault.head").read_bytes()
    await vault.change_passphrase("old", "new")
    vault.close()
    contents = folder_bytes(tmp_path / "v")
    head = bytearray(contents["vault.head"])
    first = 92
    for page in (0, 4096):
        start = page + first
        head[start : start + SLOT_LENGTH] = old_head[start : start + SLOT_LENGTH]
        head[page + 4064 : page + 4096] = checksum(head[page : page + 4064])
    fill_folder(tmp_path / "mixed", contents | {"vault.head": bytes(head)})
    with pytest.raises(VaultDamagedError):
        await open_vault(tmp_path / "mixed", "old", bounds=TEST_BOUNDS)


def checksum(content):
    import hashlib

    return hashlib.sha256(content).digest()


@pytest.mark.parametrize("step", ["write", "flush"])
async def test_disk_failing_in_a_key_change_leaves_exactly_one_passphrase(
    tmp_path, step
):
    disk = FaultyDisk()
    vault, _ = await create_vault(
        tmp_path, "old", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    disk.only, disk.changes, disk.fail_at = step, 0, 0
    with pytest.raises(KeyChangeUnsureError):
        await vault.change_passphrase("old", "new")
    vault.close()
    opened = []
    for passphrase in ("old", "new"):
        try:
            (await open_vault(tmp_path, passphrase, bounds=TEST_BOUNDS)).close()
        except WrongPassphraseError:
            continue
        opened.append(passphrase)
    assert opened == (["old"] if step == "write" else ["new"])


async def test_neither_passphrase_nor_key_stands_in_the_files(tmp_path):
    vault, code = await create_vault(
        tmp_path, "hoof and paw", CHEAP, bounds=TEST_BOUNDS
    )
    vault.animals.put({"animal_id": "a1", "name": "Demo Bella"})
    everything = b"".join(folder_bytes(tmp_path).values())
    secrets = (b"hoof and paw", code.encode(), code.replace("-", "").encode())
    for secret in (*secrets, vault._data_key, b"Demo Bella", b"animal_id"):
        assert secret not in everything
    vault.close()


@pytest.mark.slow
async def test_production_costs_open_within_the_production_bounds(tmp_path):
    vault, code = await create_vault(tmp_path, "hoof")
    vault.close()
    (await open_vault(tmp_path, "hoof")).close()
    (await open_vault_with_recovery_code(tmp_path, code)).close()
