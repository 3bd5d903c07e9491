"""A restoration that the power cut off is begun again, and nothing else is mistaken."""

import collections
import itertools

import pytest

from exam_app.app.maintenance.first_start import cut_off_words
from exam_app.store.engine.files import open_file
from exam_app.store.errors import (
    NoVaultError,
    UnfinishedVaultError,
    VaultDamagedError,
    VaultExistsError,
)
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.folder import create_vault, vault_exists, was_begun
from exam_app.store.vault.open import KEYS_REPAIRED, open_vault
from exam_app.store.vault.restore import Secrets, restore_vault, salvage_vault
from tests.store_disks import (
    CHEAP,
    SECTOR,
    TEST_BOUNDS,
    FaultyDisk,
    MemoryFile,
    apply_step,
    fill_folder,
    folder_bytes,
    seeded,
)

SECRETS = Secrets("hoof", "hoof", CHEAP, TEST_BOUNDS)


@pytest.fixture
async def backup(tmp_path):
    vault, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    for number in range(20):
        vault.closed.put(
            ClosedExam(exam_id=f"c{number}", animal_id="a1"), b"signed" * 50
        )
    content = MemoryFile()
    vault.back_up(content)
    vault.close()
    return content


def sector_mixes(before, offset, written, rng):
    """Every choice of sectors that arrived, the others old, zero or garbage."""
    old = before[offset : offset + len(written)].ljust(len(written), b"\0")
    count = -(-len(written) // SECTOR)
    for missed in (old, bytes(len(written)), rng.randbytes(len(written))):
        for arrived in itertools.product((True, False), repeat=count):
            mixed = b"".join(
                (written if has else missed)[at * SECTOR : (at + 1) * SECTOR]
                for at, has in enumerate(arrived)
            )
            yield (
                bytes(before[:offset]).ljust(offset, b"\0")
                + mixed
                + bytes(before[offset + len(written) :])
            )


def prefixes(before, offset, written):
    """Every length of the write that arrived, behind it the old bytes or zeros."""
    for length in range(len(written)):
        torn = bytearray(before)
        apply_step(torn, ("write", offset, written[:length]))
        yield bytes(torn)
        yield bytes(torn.ljust(offset + len(written), b"\0"))


def torn_states(steps, contents, rng):
    """Give every state that a cut in one of these steps leaves in the folder.

    Yields:
        The name of the file, the number of the step, and what the folder holds.
    """
    contents = dict(contents)
    for number, (name, step) in enumerate(steps):
        before = contents.get(name, b"")
        torn = [before]
        if step[0] == "write" and name == "vault.head":
            torn += prefixes(before, *step[1:])
            torn += sector_mixes(before, *step[1:], rng)
        for content in dict.fromkeys(torn):
            yield name, number, contents | {name: content}
        grown = bytearray(before)
        apply_step(grown, step)
        contents[name] = bytes(grown)
    yield "", len(steps), contents


async def restored_steps(backup, folder, leftovers=None):
    disk = FaultyDisk()
    if leftovers:
        fill_folder(folder, leftovers)
    vault, _ = await restore_vault(backup, folder, SECRETS, disk.open)
    vault.close()
    return disk.log


async def judge(folder, contents, backup):
    """Open the folder, or restore into it again; both must bring everything.

    Returns:
        "opens", "repaired", or "begun again".
    """
    fill_folder(folder, contents)
    if vault_exists(folder):
        vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
        found = "opens" if vault.damage_report is None else "repaired"
        assert vault.damage_report in (None, KEYS_REPAIRED)
    else:
        with pytest.raises(NoVaultError) as refused:
            await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
        if was_begun(folder):
            assert isinstance(refused.value, UnfinishedVaultError)
            assert "again" in refused.value.advice
        assert folder_bytes(folder) == contents
        vault, _ = await restore_vault(backup, folder, SECRETS)
        found = "begun again"
    assert len(vault.closed.latest(99)) == 20
    assert vault.audit().is_sound
    vault.close()
    return found


async def check(backup, tmp_path, rng, picked, leftovers=None):
    steps = await restored_steps(backup, tmp_path / "whole", leftovers)
    counts = collections.Counter()
    states = list(torn_states(steps, leftovers or {}, rng))
    for number, (_, _, contents) in enumerate(states):
        if picked(number):
            counts[await judge(tmp_path / "cut", contents, backup)] += 1
            for path in (tmp_path / "cut").iterdir():
                path.unlink()
    return counts


def a_fortieth(number):
    return number % 41 == 0


@pytest.mark.slow
async def test_restoration_cut_anywhere_opens_or_is_begun_again(backup, tmp_path):
    counts = await check(backup, tmp_path, seeded(1), a_fortieth)
    assert counts["opens"] + counts["repaired"] > 15
    assert counts["begun again"] > 100


async def begun_leftovers(backup, tmp_path):
    """What a restoration leaves that was cut in the write of its first page."""
    steps = await restored_steps(backup, tmp_path / "first")
    for name, _, contents in torn_states(steps, {}, seeded(2)):
        head = contents.get("vault.head", b"")
        if name == "vault.head" and len(head) > 4096 and contents.get("vault.a"):
            return contents
    raise AssertionError


@pytest.mark.slow
async def test_restoration_over_one_that_was_cut_off_can_be_cut_off_too(
    backup, tmp_path
):
    leftovers = await begun_leftovers(backup, tmp_path)
    counts = await check(backup, tmp_path, seeded(3), a_fortieth, leftovers)
    assert counts["begun again"] > 100


async def test_cut_off_restoration_is_named_and_neither_salvaged_nor_damaged(
    backup, tmp_path
):
    leftovers = await begun_leftovers(backup, tmp_path)
    fill_folder(tmp_path / "cut", leftovers)
    assert was_begun(tmp_path / "cut")
    for refused in (
        open_vault(tmp_path / "cut", "hoof", bounds=TEST_BOUNDS),
        salvage_vault(tmp_path / "cut", tmp_path / "out", SECRETS),
    ):
        with pytest.raises(UnfinishedVaultError) as error:
            await refused
        assert "backup is as it was" in error.value.advice
    assert folder_bytes(tmp_path / "cut") == leftovers
    assert not (tmp_path / "out").exists()
    # The first start says it above the question what this device is.
    words = cut_off_words(tmp_path / "cut", open_file)
    assert words == UnfinishedVaultError.advice
    assert cut_off_words(tmp_path / "v", open_file) == ""


async def test_whole_store_with_damaged_pages_is_not_taken_for_one_that_was_begun(
    backup, tmp_path
):
    vault, _ = await restore_vault(backup, tmp_path / "whole", SECRETS)
    vault.close()
    whole = folder_bytes(tmp_path / "whole")
    rng = seeded(4)
    for _ in range(30):
        head = bytearray(whole["vault.head"])
        for at in (0, 4096):
            head[at + rng.randrange(362)] ^= 1
        fill_folder(tmp_path / "bad", whole | {"vault.head": bytes(head)})
        assert vault_exists(tmp_path / "bad")
        assert not was_begun(tmp_path / "bad")
        with pytest.raises(VaultDamagedError):
            await open_vault(tmp_path / "bad", "hoof", bounds=TEST_BOUNDS)
        with pytest.raises(VaultExistsError):
            await restore_vault(backup, tmp_path / "bad", SECRETS)


@pytest.mark.exhaustive
async def test_every_torn_state_of_a_restoration_opens_or_is_begun_again(
    backup, tmp_path
):
    leftovers = await begun_leftovers(backup, tmp_path)
    for name, start in (("new", None), ("over a cut-off one", leftovers)):
        place = tmp_path / name
        place.mkdir()
        counts = await check(backup, place, seeded(5), lambda _: True, start)
        print(
            f"{sum(counts.values())} torn states of a restoration ({name}): "
            f"{dict(counts)}, 0 stuck",
        )
        assert sum(counts.values()) > 5000
