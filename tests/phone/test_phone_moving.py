"""Moving exams to another device or address: a backup, restored at the first start."""

import sys
import types

import pytest

from exam_app.app.maintenance.first_start import (
    SetUp,
    address_words,
    belonging_words,
    moved_words,
    own_address,
)
from exam_app.app.maintenance.restoration import (
    Restore,
    look_at_backup,
    restore,
    restore_problem,
)
from exam_app.app.session import LockState, Session
from exam_app.domain.exam.people import Person, Role
from exam_app.store.engine.files import OwnPlace, Room, peek_file
from exam_app.store.engine.read_files import MemoryPart
from exam_app.store.errors import (
    MistypedRecoveryCodeError,
    NoBackupError,
    VaultError,
    VaultExistsError,
    VaultFullError,
    WrongPassphraseError,
)
from exam_app.store.vault.folder import create_vault, vault_exists
from exam_app.ui.widgets import files as clinic_files
from tests.store_disks import CHEAP, TEST_BOUNDS, FaultyDisk

PASSPHRASE = "seven blue kettles sing"
OLD, NEW = "https://old.test:8443", "https://new.test:8443"
PERSON = Person("p1", "Alex Rowan", Role.TECHNICIAN)


class Phone(FaultyDisk):
    """An opener that says its files lie in no folder of the system."""

    def __init__(self, fail_at=None):
        # A full medium takes no writes; what is cut off it gives back.
        super().__init__(fail_at=fail_at, only="write")

    async def __call__(self, path):
        return await self.open(path)

    def peek(self, path, length):
        return peek_file(path, length)

    async def room(self):
        return Room()


@pytest.fixture
def at(monkeypatch):
    def put(origin):
        js = types.SimpleNamespace(location=types.SimpleNamespace(origin=origin))
        monkeypatch.setitem(sys.modules, "js", js)

    return put


def session_in(folder, opener=None):
    folder.mkdir(exist_ok=True)
    more = {"opener": opener} if opener else {}
    return Session(folder, CHEAP, TEST_BOUNDS, **more)


async def backed_up(folder, opener=None):
    """A device with one draft and a typed folder; its backup and recovery code."""
    session = session_in(folder, opener)
    here = own_address(session.opener)
    answers = SetUp("field", "Hill", "555 0123", PASSPHRASE, PERSON, "4321", here)
    code = await session.set_up(answers)
    session.vault.drafts.put("e1", {"said": "demo"})
    session.vault.settings.put("hand_over_folder", "/a/stick")
    device_id = session.vault.settings.get("device_id")
    part = MemoryPart()
    session.vault.back_up(part)
    session.close()
    return part.read_at(0, part.size()), code, device_id


async def test_a_phones_backup_restored_under_another_address_says_where_it_came_from(
    tmp_path, at
):
    at(OLD)
    assert isinstance(Phone(), OwnPlace)
    content, _, former_device = await backed_up(tmp_path / "old", Phone())
    at(NEW)
    session = session_in(tmp_path / "new", Phone())
    code = await restore(session, Restore(content, is_by_code=False, typed=PASSPHRASE))
    vault = session.vault
    assert session.state is LockState.OPEN
    assert session.person.name == "Alex Rowan"
    assert vault.drafts.get("e1") == {"said": "demo"}
    assert vault.settings.get("device_id") != former_device
    assert vault.settings.get("recovery_confirmed") is False
    assert vault.settings.get("hand_over_folder") == ""
    words = belonging_words(vault)
    assert NEW in words
    assert OLD in words
    session.close()
    again = session_in(tmp_path / "new", Phone())
    await again.open_with_passphrase(code, is_code=True)
    assert again.vault.drafts.get("e1") == {"said": "demo"}
    again.close()


async def test_a_recovery_code_opens_the_backup_and_a_new_passphrase_the_new_store(
    tmp_path,
):
    content, code, _ = await backed_up(tmp_path / "old")
    session = session_in(tmp_path / "new")
    new = "eight green ladders hum"
    answers = Restore(content, True, code, new, new)
    assert restore_problem(answers) == ""
    await restore(session, answers)
    assert session.vault.settings.get("hand_over_folder") == "/a/stick"
    assert belonging_words(session.vault) == ""
    session.close()
    with pytest.raises(WrongPassphraseError):
        await session.open_with_passphrase(PASSPHRASE)
    await session.open_with_passphrase(new)
    session.close()


async def test_wrong_passphrase_changes_nothing_and_the_right_one_restores_after_it(
    tmp_path,
):
    content, _, _ = await backed_up(tmp_path / "old")
    session = session_in(tmp_path / "new")
    with pytest.raises(WrongPassphraseError):
        await restore(session, Restore(content, False, "seven blue kettles sin"))
    assert session.state is LockState.EMPTY
    assert not [*session.folder.iterdir()]
    await restore(session, Restore(content, False, PASSPHRASE))
    assert session.vault.drafts.get("e1")
    session.close()


async def test_cut_longer_foreign_and_changed_files_are_refused_as_they_are_chosen(
    tmp_path,
):
    content, _, _ = await backed_up(tmp_path / "old")
    look_at_backup(content)
    middle = len(content) // 2
    changed = content[:middle] + bytes([content[middle] ^ 1]) + content[middle + 1 :]
    for wrong in (b"", content[:-1], content + b"\0", b"%PDF-1.7" * 999, changed):
        with pytest.raises(NoBackupError):
            look_at_backup(wrong)


async def test_exams_that_are_there_are_never_written_over(tmp_path):
    content, _, _ = await backed_up(tmp_path / "old")
    taken = tmp_path / "taken"
    taken.mkdir()
    session = session_in(taken)
    vault, _ = await create_vault(taken, "hoof", CHEAP, bounds=TEST_BOUNDS)
    vault.close()
    before = {path.name: path.read_bytes() for path in taken.iterdir()}
    with pytest.raises(VaultExistsError):
        await restore(session, Restore(content, False, PASSPHRASE))
    assert {path.name: path.read_bytes() for path in taken.iterdir()} == before


async def test_a_device_that_is_full_anywhere_in_a_restoration_holds_nothing_after_it(
    tmp_path, at
):
    at(OLD)
    content, _, _ = await backed_up(tmp_path / "old", Phone())
    refused = 0
    for fail_at in range(100):
        folder = tmp_path / str(fail_at)
        session = session_in(folder, Phone(fail_at))
        try:
            await restore(session, Restore(content, False, PASSPHRASE))
        except VaultFullError:
            refused += 1
            assert session.state is LockState.EMPTY
            assert not vault_exists(folder)
            again = session_in(folder, Phone())
            await restore(again, Restore(content, False, PASSPHRASE))
            again.close()
            continue
        session.close()
        break
    assert refused >= 5


async def test_an_app_killed_in_a_restoration_begins_empty(tmp_path, monkeypatch):
    content, _, _ = await backed_up(tmp_path / "old")
    session = session_in(tmp_path / "new")

    def killed(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("exam_app.store.vault.folder.HeadPage", killed)
    # What a kill leaves: nothing is tidied up.
    monkeypatch.setattr("exam_app.store.vault.folder._empty", lambda _: None)
    with pytest.raises(KeyboardInterrupt):
        await restore(session, Restore(content, False, PASSPHRASE))
    monkeypatch.undo()
    assert (session.folder / "vault.a").stat().st_size > 200
    again = session_in(session.folder)
    assert again.state is LockState.EMPTY
    await restore(again, Restore(content, False, PASSPHRASE))
    again.close()


def test_what_is_missing_or_mistyped_is_said_before_anything_is_tried():
    code = "0" * 10
    assert "Choose the backup" in restore_problem(Restore(b"", False, "x"))
    assert "Type what opens" in restore_problem(Restore(b"x", False, ""))
    mistyped = restore_problem(Restore(b"x", True, code))
    assert mistyped == MistypedRecoveryCodeError.advice


def test_words_about_addresses_name_both_and_are_silent_on_a_computer(at):
    at(NEW)
    assert own_address(Phone()) == NEW
    assert own_address(create_vault) == ""
    assert address_words("") == ""
    assert NEW in address_words(NEW)
    told = moved_words(OLD, NEW)
    for words in (OLD, "still holds its own copy", "pair with the clinic again"):
        assert words in told
    for former in ("", NEW):
        assert "may still hold its own copy" in moved_words(former, NEW)


def test_only_files_of_the_system_have_folders():
    for opener, reaches in ((Phone(), False), (create_vault, True)):
        tab = types.SimpleNamespace(session=types.SimpleNamespace(opener=opener))
        assert clinic_files.reaches_folders(tab) is reaches


def test_every_refusal_of_the_store_that_names_a_folder_is_true_of_a_phone_too():
    for kind in (*VaultError.__subclasses__(), VaultError):
        if "folder" in kind.advice:
            assert any(words in kind.advice for words in ("phone", "address", "place"))
