"""Backup, restore and salvage: what comes back, and as which device."""

import io
import sys

import pytest

from exam_app.__main__ import Costs, main
from exam_app.crypto import door
from exam_app.record.lineage import SUCCESSOR
from exam_app.store.engine.read_files import MemoryPart
from exam_app.store.engine.replay import find_frames
from exam_app.store.errors import (
    NoBackupError,
    VaultAlteredError,
    VaultExistsError,
    VaultStoppedError,
    WrongPassphraseError,
)
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault, open_vault_with_recovery_code
from exam_app.store.vault.restore import Secrets, restore_vault, salvage_vault
from tests.store_disks import (
    CHEAP,
    TEST_BOUNDS,
    MemoryFile,
    fill_folder,
    folder_bytes,
    seeded,
)

CHEAP_COSTS = Costs(CHEAP, TEST_BOUNDS)


def secrets(typed="hoof", passphrase="hoof"):
    return Secrets(typed, passphrase, CHEAP, TEST_BOUNDS)


@pytest.fixture
async def filled(tmp_path):
    vault, code = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    with vault.transaction():
        vault.settings.put("signing_key", bytes(range(32)))
        vault.settings.put("agreement_key", bytes(range(32, 64)))
        vault.settings.put("device_id", "f" * 32)
    for number in range(5):
        vault.animals.put({"animal_id": f"a{number}", "name": f"Demo {number}"})
        vault.drafts.put(f"e{number}", {"turn": number, "text": "x" * 300})
        vault.closed.put(
            ClosedExam(exam_id=f"c{number}", animal_id="a1"), b"signed %d" % number
        )
    yield vault, code
    vault.close()


def content_of(vault):
    return {
        "animals": [vault.animals.get(one.animal_id) for one in vault.animals.all()],
        "drafts": [vault.drafts.get(row.exam_id) for row in vault.drafts.open()],
        "closed": [vault.closed.get(row.exam_id) for row in vault.closed.latest(99)],
    }


async def test_backup_brings_everything_back_with_passphrase_or_code(filled, tmp_path):
    vault, code = filled
    backup = MemoryFile()
    vault.back_up(backup)
    expected = content_of(vault)
    for name, given in (("one", secrets()), ("two", secrets(code, "new words"))):
        again, new_code = await restore_vault(backup, tmp_path / name, given)
        assert content_of(again) == expected
        again.close()
        again = await open_vault(tmp_path / name, given.passphrase, bounds=TEST_BOUNDS)
        assert content_of(again) == expected
        assert again.damage_report is None
        assert again.audit().is_sound
        again.close()
        again = await open_vault_with_recovery_code(
            tmp_path / name, new_code, bounds=TEST_BOUNDS
        )
        again.close()
        assert new_code != code


async def test_restored_store_is_a_new_device_vouched_for_by_the_former(
    filled, tmp_path
):
    vault, _ = filled
    old_signing = door.signing_public_key(vault.settings.get("signing_key"))
    old_agreement = door.agreement_public_key(vault.settings.get("agreement_key"))
    chain = [vault]
    for name in ("one", "two"):
        backup = MemoryFile()
        chain[-1].back_up(backup)
        again, _ = await restore_vault(backup, tmp_path / name, secrets())
        chain.append(again)
    former = chain[2].settings.get("former_keys")
    assert [entry["device_id"] for entry in former] == [
        "f" * 32,
        chain[1].settings.get("device_id"),
    ]
    assert bytes.fromhex(former[0]["signing_key"]) == old_signing
    assert bytes.fromhex(former[0]["agreement_key"]) == old_agreement
    for entry, successor in zip(former, chain[1:], strict=True):
        signing = door.signing_public_key(successor.settings.get("signing_key"))
        agreement = door.agreement_public_key(successor.settings.get("agreement_key"))
        vouched = SUCCESSOR + signing + agreement
        key = bytes.fromhex(entry["signing_key"])
        assert door.verify(key, bytes.fromhex(entry["vouched"]), vouched)
        assert signing != key
    seeds = {one.settings.get("signing_key") for one in chain}
    assert len(seeds) == 3
    # No private half of a former key stays in the new store.
    for seed in seeds - {chain[2].settings.get("signing_key")}:
        assert seed.hex() not in str(chain[2]._storage.read())
    for one in chain[1:]:
        one.close()


async def test_wrong_passphrase_restores_nothing(filled, tmp_path):
    vault, _ = filled
    backup = MemoryFile()
    vault.back_up(backup)
    with pytest.raises(WrongPassphraseError):
        await restore_vault(backup, tmp_path / "new", secrets("paw"))
    assert not (tmp_path / "new").exists()
    vault.close()
    before = folder_bytes(tmp_path / "v")
    with pytest.raises(VaultExistsError):
        await restore_vault(backup, tmp_path / "v", secrets())
    assert folder_bytes(tmp_path / "v") == before


async def check_backup_flips(vault, tmp_path, positions, rng):
    backup = MemoryFile()
    vault.back_up(backup)
    good = bytes(backup.content)
    count = 0
    for position in positions(len(good)):
        changed = bytearray(good)
        changed[position] ^= rng.randrange(1, 256)
        for content in (bytes(changed), good[:position]):
            with pytest.raises(NoBackupError):
                await restore_vault(MemoryFile(content), tmp_path / "new", secrets())
            count += 1
    assert not (tmp_path / "new").exists()
    return count


async def test_backup_with_a_flip_or_a_cut_is_refused(filled, tmp_path):
    rng = seeded(1)

    def sample(length):
        # Byte 16 and 17 are the version: higher is too new, which is said as such.
        edges = [0, 15, 18, 25, 26, 57, 58, 4153, 4154, length - 1]
        return [*edges, *(rng.randrange(18, length) for _ in range(200))]

    assert await check_backup_flips(filled[0], tmp_path, sample, rng) > 400


@pytest.mark.exhaustive
async def test_backup_with_a_flip_or_a_cut_at_every_byte_is_refused(filled, tmp_path):
    count = await check_backup_flips(
        filled[0], tmp_path, lambda length: range(18, length), seeded(2)
    )
    print(f"{count} damaged backups, all refused")


async def test_backup_on_a_full_disk_is_refused_and_the_store_goes_on(filled):
    class Full(MemoryPart):
        def write_at(self, *_):
            raise OSError(5, "the test's disk failed")

    with pytest.raises(VaultStoppedError):
        filled[0].back_up(Full())
    filled[0].settings.put("theme", "dark")


async def test_checksum_made_to_fit_does_not_hide_a_changed_entry(filled, tmp_path):
    vault, _ = filled
    backup = MemoryFile()
    vault.back_up(backup)
    content = bytearray(backup.content)
    rng = seeded(3)
    for _ in range(60):
        changed = bytearray(content)
        changed[rng.randrange(58 + 4096, len(content))] ^= 1
        changed[26:58] = door.sha256(bytes(changed[58:]))
        with pytest.raises(NoBackupError):
            await restore_vault(MemoryFile(changed), tmp_path / "new", secrets())


async def damaged_folder(vault, tmp_path, spoil):
    journal = vault._storage.journal()
    starts = [at for at, _ in find_frames(journal.file, journal.keys, 0)]
    vault.close()
    contents = folder_bytes(tmp_path / "v")
    content = bytearray(contents["vault.a"])
    spoil(content, starts)
    fill_folder(tmp_path / "bad", contents | {"vault.a": bytes(content)})
    return tmp_path / "bad"


async def test_salvage_takes_out_what_still_authenticates(filled, tmp_path):
    vault, _ = filled
    vault.drafts.put("e2", {"turn": 99, "text": "newer"})
    vault.settings.put("theme", "dark")
    expected = content_of(vault)

    def spoil(content, starts):
        # The save that brought animal 3, and the body of the newer draft of exam 2.
        content[starts[-9 - 2] + 80] ^= 1
        content[starts[-1] - 20] ^= 1

    bad = await damaged_folder(vault, tmp_path, spoil)
    before = folder_bytes(bad)
    with pytest.raises(VaultAlteredError):
        await open_vault(bad, "hoof", bounds=TEST_BOUNDS)
    again, _, found = await salvage_vault(bad, tmp_path / "new", secrets())
    found_content = content_of(again)
    assert folder_bytes(bad) == before
    assert found.missing_parts == 1
    assert not found.is_counted
    assert found.older == (("drafts", "e2"),)
    assert found.lost == ()
    missing = [a for a in expected["animals"] if a not in found_content["animals"]]
    missing += [c for c in expected["closed"] if c not in found_content["closed"]]
    assert len(missing) <= 1
    assert again.settings.get("theme") == "dark"
    assert again.drafts.get("e2") == {"turn": 2, "text": "x" * 300}
    assert again.settings.get("former_keys")[0]["device_id"] == "f" * 32
    again.close()


async def test_damaged_index_is_made_again_from_the_frames_before_it(filled, tmp_path):
    vault, _ = filled
    vault.rewrite()
    vault.rewrite()
    expected = content_of(vault)

    def spoil(content, starts):
        content[starts[-1] + 100] ^= 1

    bad = await damaged_folder(vault, tmp_path, spoil)
    again, _, found = await salvage_vault(bad, tmp_path / "new", secrets())
    assert content_of(again) == expected
    assert (found.lost, found.older) == ((), ())
    assert found.is_whole
    assert "Nothing is missing" in found.sentence
    again.close()


async def test_rotated_key_leaves_nothing_that_the_former_key_opens(filled, tmp_path):
    vault, code = filled
    old_head = (tmp_path / "v" / "vault.head").read_bytes()
    old_key = vault._data_key
    new = await vault.new_data_key("hoof")
    vault.go_over(new)
    new_code = new.code
    vault.settings.put("theme", "dark")
    expected = content_of(vault)
    assert vault._data_key != old_key
    vault.close()
    contents = folder_bytes(tmp_path / "v")
    assert b"" in (contents["vault.a"], contents["vault.b"])
    fill_folder(tmp_path / "old", contents | {"vault.head": old_head})
    with pytest.raises(Exception, match=r"header|mixed|journal"):
        await open_vault(tmp_path / "old", "hoof", bounds=TEST_BOUNDS)
    again = await open_vault_with_recovery_code(
        tmp_path / "v", new_code, bounds=TEST_BOUNDS
    )
    assert content_of(again) == expected
    again.close()
    with pytest.raises(Exception, match="refused"):
        await open_vault_with_recovery_code(tmp_path / "v", code, bounds=TEST_BOUNDS)


def run_main(monkeypatch, typed, *arguments):
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    return main([str(argument) for argument in arguments], CHEAP_COSTS)


@pytest.fixture
def left_folder(tmp_path):
    import asyncio

    async def fill():
        vault, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
        vault.settings.put("clinic", "Demo clinic")
        vault.close()

    asyncio.run(fill())
    return tmp_path / "v"


def test_commands_back_up_and_restore_without_a_page(
    left_folder, tmp_path, monkeypatch, capsys
):
    file = tmp_path / "exams.backup"
    code = run_main(monkeypatch, "hoof\n", "backup", file, "--data", left_folder)
    assert code == 0
    assert "read back" in capsys.readouterr().out
    again = run_main(monkeypatch, "hoof\n", "backup", file, "--data", left_folder)
    assert again == 1
    assert "already" in capsys.readouterr().err
    new = tmp_path / "new"
    assert run_main(monkeypatch, "paw\n", "restore", file, "--data", new) == 1
    assert "does not open" in capsys.readouterr().err
    assert run_main(monkeypatch, "hoof\n", "restore", file, "--data", new) == 0
    out = capsys.readouterr().out
    assert "new device" in out
    assert "hoof" not in out
    code = out.split()[-1]
    third = tmp_path / "third"
    typed = "hoof\n"
    assert run_main(monkeypatch, typed, "salvage", new, "--data", third) == 0
    assert "Nothing is missing" in capsys.readouterr().out
    assert (
        run_main(monkeypatch, typed, "restore", tmp_path / "no", "--data", third) == 1
    )
    assert (
        run_main(monkeypatch, f"{code}\nnew words\n", "salvage", new, "--data", third)
        == 1
    )
    assert "already holds exams" in capsys.readouterr().err


def test_refused_backup_leaves_no_file_behind(
    left_folder, tmp_path, monkeypatch, capsys
):
    file = tmp_path / "exams.backup"
    assert run_main(monkeypatch, "paw\n", "backup", file, "--data", left_folder) == 1
    assert not file.exists()
    assert (
        run_main(
            monkeypatch,
            "hoof\n",
            "backup",
            tmp_path / "no" / "b",
            "--data",
            left_folder,
        )
        == 1
    )
    assert "cannot be read or written" in capsys.readouterr().err
