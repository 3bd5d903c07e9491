"""Photographs through backup, restoring, salvage, another data key, and deletion."""

import pytest

from exam_app.store.engine.files import Room
from exam_app.store.engine.picture_files import PictureFolder
from exam_app.store.engine.picture_slots import PictureSlots
from exam_app.store.errors import (
    KeysChangedError,
    NoBackupError,
    NoRoomForPhotographError,
    PhotographMissingError,
    VaultError,
    VaultFullError,
    VaultTooNewError,
)
from exam_app.store.repositories.photographs import ROOM_FOR_ANSWERS, Photographs
from exam_app.store.vault.backup import read_backup
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import (
    open_vault,
    open_vault_to_read,
    open_vault_with_recovery_code,
)
from exam_app.store.vault.restore import Secrets, restore_vault, salvage_vault
from exam_app.store.vault.vault import Vault
from tests.pictures import hash_of, picture
from tests.store_disks import CHEAP, TEST_BOUNDS, MemoryFile

EXAM = "e1" * 16
SECRETS = Secrets("hoof", "mane", CHEAP, TEST_BOUNDS)
ALL = [picture(n, 1_000 * n) for n in (1, 2, 3)]
VERSION_AT = 16


@pytest.fixture
async def vault(tmp_path):
    opened, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    opened.drafts.put(EXAM, {"animal_id": "a1"})
    for content in ALL:
        opened.photographs.add(EXAM, content)
    yield opened
    opened.close()


def held(vault):
    return [vault.photographs.get(hash_of(one)) for one in ALL]


def folder_of(tmp_path, name="v"):
    return tmp_path / name / "photographs"


def file_of(vault, tmp_path, content):
    """Find the one file that this picture lies in, by what goes without it."""
    for path in folder_of(tmp_path).iterdir():
        kept = path.read_bytes()
        path.unlink()
        is_gone = not vault.photographs.has(hash_of(content))
        path.write_bytes(kept)
        if is_gone:
            return path
    raise AssertionError


def backed_up(vault):
    file = MemoryFile()
    vault.back_up(file)
    return file


async def test_a_backup_brings_the_photographs_back_under_new_keys(vault, tmp_path):
    file = backed_up(vault)
    assert ALL[0][:80] not in bytes(file.content)
    restored, _ = await restore_vault(file, tmp_path / "r", SECRETS)
    assert held(restored) == ALL
    assert restored.damage_report is None
    names = [{p.name for p in folder_of(tmp_path, n).iterdir()} for n in ("v", "r")]
    assert not names[0] & names[1]
    restored.close()


async def test_a_backup_without_photographs_is_the_one_that_every_app_reads(tmp_path):
    made, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    made.drafts.put(EXAM, {"animal_id": "a1"})
    file = backed_up(made)
    made.close()
    assert bytes(file.content[VERSION_AT : VERSION_AT + 2]) == b"\0\1"
    restored, _ = await restore_vault(file, tmp_path / "r", SECRETS)
    assert restored.drafts.get(EXAM) == {"animal_id": "a1"}
    restored.close()


async def test_a_backup_with_photographs_says_that_it_is_newer(vault):
    file = backed_up(vault)
    assert bytes(file.content[VERSION_AT : VERSION_AT + 2]) == b"\0\2"
    file.write_at(VERSION_AT, b"\0\3")
    with pytest.raises(VaultTooNewError):
        read_backup(file)


async def test_a_backup_cut_or_changed_where_the_photographs_lie_is_refused(vault):
    whole = bytes(backed_up(vault).content)
    start = len(whole) - sum(map(len, ALL))
    for at in range(start, len(whole), 97):
        with pytest.raises(NoBackupError):
            read_backup(MemoryFile(whole[:at]))
        changed = bytearray(whole)
        changed[at] ^= 1
        with pytest.raises(NoBackupError):
            read_backup(MemoryFile(changed))
    with pytest.raises(NoBackupError):
        read_backup(MemoryFile(whole + b"x"))
    # Called one without photographs, it is too long.
    with pytest.raises(NoBackupError):
        read_backup(MemoryFile(whole[:VERSION_AT] + b"\0\1" + whole[VERSION_AT + 2 :]))


async def test_a_backup_is_made_beside_a_damaged_photograph(vault, tmp_path):
    file_of(vault, tmp_path, ALL[1]).write_bytes(b"damaged")
    restored, _ = await restore_vault(backed_up(vault), tmp_path / "r", SECRETS)
    assert restored.photographs.get(hash_of(ALL[0])) == ALL[0]
    assert restored.photographs.get(hash_of(ALL[2])) == ALL[2]
    with pytest.raises(PhotographMissingError):
        restored.photographs.get(hash_of(ALL[1]))
    assert restored.damage_report.startswith("1 photograph was not brought along")
    restored.close()


async def test_a_backup_reads_each_photograph_once(vault, tmp_path, monkeypatch):
    seen, read = [], PictureFolder.read

    def counted(files, name):
        seen.append(name)
        return read(files, name)

    monkeypatch.setattr(PictureFolder, "read", counted)
    pieces = dict(vault.photographs.sealed())
    assert sorted(seen) == sorted(pieces)
    assert pieces == {p.name: p.read_bytes() for p in folder_of(tmp_path).iterdir()}


async def test_without_room_the_exams_are_restored_and_the_rest_is_told(
    vault, tmp_path, monkeypatch
):
    file = backed_up(vault)
    monkeypatch.setattr(PictureFolder, "left", lambda _: ROOM_FOR_ANSWERS)
    restored, _ = await restore_vault(file, tmp_path / "r", SECRETS)
    assert restored.drafts.get(EXAM) == {"animal_id": "a1"}
    assert "3 photographs were not brought along" in restored.damage_report
    restored.close()


async def test_salvage_takes_the_whole_photographs_along(vault, tmp_path):
    file_of(vault, tmp_path, ALL[0]).unlink()
    vault.close()
    before = {p.name: p.read_bytes() for p in folder_of(tmp_path).iterdir()}
    saved, _, _ = await salvage_vault(tmp_path / "v", tmp_path / "s", SECRETS)
    assert saved.photographs.get(hash_of(ALL[1])) == ALL[1]
    assert "1 photograph was not brought along" in saved.damage_report
    assert {p.name: p.read_bytes() for p in folder_of(tmp_path).iterdir()} == before
    saved.close()


async def test_another_data_key_seals_the_photographs_anew(vault, tmp_path):
    before = {path.name for path in folder_of(tmp_path).iterdir()}
    vault.go_over(await vault.new_data_key("hoof"))
    after = {path.name for path in folder_of(tmp_path).iterdir()}
    assert held(vault) == ALL
    assert len(after) == 3
    assert not before & after
    vault.close()
    again = await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)
    assert held(again) == ALL
    again.close()


async def test_a_change_of_the_key_cut_off_anywhere_keeps_every_photograph(
    vault, tmp_path, monkeypatch
):
    new = await vault.new_data_key("hoof")

    def cut(*_, **__):
        raise VaultError("cut off")

    monkeypatch.setattr(Vault, "_write_again", cut)
    with pytest.raises(VaultError):
        vault.go_over(new)
    monkeypatch.undo()
    assert len(list(folder_of(tmp_path).iterdir())) == 6
    assert held(vault) == ALL
    vault.rewrite()
    assert len(list(folder_of(tmp_path).iterdir())) == 3
    assert held(vault) == ALL


async def test_strays_that_stay_make_no_failure_of_what_is_done(
    vault, tmp_path, monkeypatch
):
    def cut(*_, **__):
        raise VaultError("cut off")

    new = await vault.new_data_key("hoof")
    monkeypatch.setattr(Photographs, "clear_strays", cut)
    # The new key counts, so that its recovery code has to be shown.
    vault.go_over(new)
    vault.rewrite()
    monkeypatch.undo()
    assert held(vault) == ALL
    assert len(list(folder_of(tmp_path).iterdir())) == 6
    vault.rewrite()
    assert len(list(folder_of(tmp_path).iterdir())) == 3
    vault.close()
    again = await open_vault_with_recovery_code(
        tmp_path / "v", new.code, bounds=TEST_BOUNDS
    )
    assert held(again) == ALL
    again.close()


async def test_without_room_for_both_the_key_stays(vault, tmp_path, monkeypatch):
    new, before = (
        await vault.new_data_key("hoof"),
        sorted(folder_of(tmp_path).iterdir()),
    )
    lefts = iter([10**12, 10**12, ROOM_FOR_ANSWERS])
    monkeypatch.setattr(PictureFolder, "left", lambda _: next(lefts))
    with pytest.raises(VaultFullError) as refusal:
        vault.go_over(new)
    assert type(refusal.value) is VaultFullError
    assert sorted(folder_of(tmp_path).iterdir()) == before
    assert held(vault) == ALL


async def test_a_damaged_photograph_does_not_hold_up_another_data_key(vault, tmp_path):
    file_of(vault, tmp_path, ALL[1]).write_bytes(b"damaged")
    vault.go_over(await vault.new_data_key("hoof"))
    assert vault.photographs.damaged() == (hash_of(ALL[1]),)
    assert vault.photographs.get(hash_of(ALL[2])) == ALL[2]


async def test_slots_changed_by_an_old_key_are_not_taken(vault):
    new = await vault.new_data_key("hoof")
    vault.go_over(new)
    with pytest.raises(KeysChangedError):
        vault.go_over(new)
    assert held(vault) == ALL


async def test_the_check_reads_every_photograph(vault, tmp_path):
    assert vault.audit().is_sound
    file_of(vault, tmp_path, ALL[2]).write_bytes(b"")
    report = vault.audit()
    assert not report.is_sound
    assert report.pictures == (hash_of(ALL[2]),)
    assert "1 of the photographs" in report.sentence


async def test_a_store_that_is_only_read_shows_its_photographs(vault, tmp_path):
    vault.close()
    seen = await open_vault_to_read(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)
    assert held(seen) == ALL
    seen.close()


class OwnFiles:
    """Files of a place of its own, opened by name and never closed."""

    def __init__(self):
        self.files = {}

    async def __call__(self, path):
        return self.files.setdefault(path.name, MemoryFile())

    def peek(self, path, length):
        file = self.files.get(path.name, MemoryFile())
        return file.size(), file.read_at(0, length)

    async def room(self):
        return Room()


async def test_in_a_place_of_its_own_they_share_one_file(tmp_path):
    place = OwnFiles()
    made, _ = await create_vault(
        tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS, opener=place
    )
    for content in ALL:
        made.photographs.add(EXAM, content)
    assert not folder_of(tmp_path).exists()
    made.photographs.note_left(ROOM_FOR_ANSWERS + 10)
    assert made.photographs.space().left == 10
    with pytest.raises(NoRoomForPhotographError):
        made.photographs.add(EXAM, picture(9))
    made.photographs.note_left(None)
    made.go_over(await made.new_data_key("hoof"))
    assert held(made) == ALL
    backup = backed_up(made)
    made.close()
    again = await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS, opener=place)
    assert held(again) == ALL
    again.photographs.settle(EXAM, ())
    assert place.files["vault.pictures"].size() == 0
    again.close()
    other = OwnFiles()
    # What a restoration that was cut off left there is given up.
    PictureSlots(await other(tmp_path / "vault.pictures")).write("0" * 32, b"left")
    restored, _ = await restore_vault(backup, tmp_path / "w", SECRETS, other)
    assert held(restored) == ALL
    assert len(PictureSlots(other.files["vault.pictures"]).names()) == 3
    restored.close()
