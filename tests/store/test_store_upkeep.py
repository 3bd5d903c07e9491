"""Looking after an open vault: progress, backups as files, a new data key."""

from threading import Event, Thread

import pytest

from exam_app.store.engine.files import LocalFile
from exam_app.store.errors import (
    BackupExistsError,
    DocumentDamagedError,
    KeysChangedError,
    VaultClosedError,
    VaultUnreachableError,
    WrongPassphraseError,
)
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.backup import make_backup_file
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault
from exam_app.store.vault.restore import Secrets, restore_vault
from tests.store_disks import CHEAP, TEST_BOUNDS, on_writing_anew


@pytest.fixture
async def vault(tmp_path):
    made, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    for number in range(70):
        made.closed.put(
            ClosedExam(exam_id=f"c{number}", animal_id="a1"), b"signed %d" % number
        )
    yield made
    made.close()


class Watch:
    """Keeps what it was told."""

    def __init__(self):
        self.told = []

    def __call__(self, done, whole):
        self.told.append((done, whole))


def assert_runs_from_start_to_end(watch):
    shares = [done / whole for done, whole in watch.told]
    assert len(shares) > 1
    assert shares == sorted(shares), "it went back"
    assert 0 < shares[0] < 1
    assert shares[-1] == 1


async def test_every_long_step_tells_how_far_it_has_come(vault, tmp_path):
    steps = {
        "audit": vault.audit,
        "rewrite": vault.rewrite,
        "backup": lambda watch: make_backup_file(vault.back_up, tmp_path / "b", watch),
    }
    new = await vault.new_data_key("hoof")
    steps["key"] = lambda watch: vault.go_over(new, watch)
    for step in steps.values():
        watch = Watch()
        step(watch)
        assert_runs_from_start_to_end(watch)
    assert vault.audit().is_sound


async def test_backup_file_is_restored_whole(vault, tmp_path):
    path = tmp_path / "of today.backup"
    assert make_backup_file(vault.back_up, path) == path.stat().st_size
    file = LocalFile(path)
    given = Secrets("hoof", "hoof", CHEAP, TEST_BOUNDS)
    again, _ = await restore_vault(file, tmp_path / "again", given)
    file.close()
    assert again.closed.count() == 70
    assert again.closed.get("c69") == b"signed 69"
    again.close()


async def test_backup_never_replaces_a_file_and_leaves_none_half_made(vault, tmp_path):
    kept = tmp_path / "kept"
    kept.write_bytes(b"something else")
    with pytest.raises(BackupExistsError):
        make_backup_file(vault.back_up, kept)
    assert kept.read_bytes() == b"something else"
    with pytest.raises(VaultUnreachableError):
        make_backup_file(vault.back_up, tmp_path / "no such folder" / "b")

    def stop(done, _whole):
        if done > 60:
            raise DocumentDamagedError("told so")

    with pytest.raises(DocumentDamagedError):
        make_backup_file(vault.back_up, tmp_path / "half", stop)
    assert not (tmp_path / "half").exists()


async def test_making_room_makes_the_files_smaller_and_keeps_everything(vault):
    for turn in range(200):
        vault.drafts.put("d", {"turn": turn, "text": "x" * 500})
    before = vault.size()
    vault.rewrite()
    assert vault.size() < before / 2
    assert vault.drafts.get("d")["turn"] == 199
    assert vault.closed.count() == 70


async def test_revisions_of_an_exam_are_counted_once(vault):
    row = ClosedExam(exam_id="c0", animal_id="a1", revision=1, parent_hash="00")
    vault.closed.put(row, b"again")
    assert vault.closed.count() == 70


async def test_data_key_made_before_a_change_of_passphrase_is_refused(vault, tmp_path):
    new = await vault.new_data_key("hoof")
    await vault.change_passphrase("hoof", "other words")
    with pytest.raises(KeysChangedError):
        vault.go_over(new)
    vault.close()
    with pytest.raises(WrongPassphraseError):
        await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)
    again = await open_vault(tmp_path / "v", "other words", bounds=TEST_BOUNDS)
    assert again.audit().is_sound
    again.close()


async def test_save_while_the_files_are_written_anew_is_not_lost(vault, tmp_path):
    begun, saved = Event(), Event()

    def progress(done, _whole):
        if done == 3:
            begun.set()
            # The save comes now; it must wait for the journal that counts then.
            saved.wait(0.2)

    def save():
        begun.wait()
        vault.settings.put("theme", "dark")
        saved.set()

    thread = Thread(target=save)
    thread.start()
    vault.rewrite(progress)
    thread.join()
    assert vault.audit().is_sound
    vault.close()
    again = await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)
    assert again.settings.get("theme") == "dark"
    assert again.closed.count() == 70
    again.close()


async def test_save_while_the_vault_is_closed_is_refused_and_not_half_kept(
    vault, tmp_path, monkeypatch
):
    refused = []

    def save():
        with pytest.raises(VaultClosedError):
            vault.settings.put("theme", "dark")
        refused.append(True)

    thread = Thread(target=save)
    on_writing_anew(vault, monkeypatch, thread.start)
    vault.close()
    thread.join()
    assert refused
    again = await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)
    assert again.audit().is_sound
    assert again.settings.get("theme") is None
    again.close()
