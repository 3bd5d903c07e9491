"""After a power cut every disk state opens to the state before or the state after."""

import pytest

from exam_app.store.errors import WrongPassphraseError
from exam_app.store.two_slots import SKIPPED, TwoSlotBody
from exam_app.store.vault import create_vault, open_vault, vault_exists
from tests.store_disks import (
    CHEAP,
    TEST_BOUNDS,
    FaultyDisk,
    MemoryFile,
    apply_step,
    fill_folder,
    folder_bytes,
    power_cut_states,
    report,
    seeded,
)

KEY, VAULT_ID = bytes(range(32)), bytes(16)


def saved_body(*states):
    files = (MemoryFile(), MemoryFile())
    body = TwoSlotBody(files, KEY, VAULT_ID)
    for state in states:
        body.save(state)
    return files, body


def loaded(contents):
    body = TwoSlotBody(tuple(map(MemoryFile, contents)), KEY, VAULT_ID)
    return body.load(), body


def check_cut_saves(rng, every, subsets):
    """Cut the last of several saves at every moment; count the states."""
    count = 0
    sizes = (40, 900, 5000, 300, 9000, 8999, 12, 2048)
    states = [
        b"%d " % number + rng.randbytes(size) for number, size in enumerate(sizes)
    ]
    for last in range(2, len(states) + 1):
        files, body = saved_body(*states[: last - 1])
        target = (last + 1) % 2
        other = bytes(files[1 - target].content)
        before = bytes(files[target].content)
        files[target].log.clear()
        body.save(states[last - 1])
        after = bytes(files[target].content)
        for torn in power_cut_states(before, files[target].log, rng, every, subsets):
            contents = (torn, other) if target == 0 else (other, torn)
            found, reopened = loaded(contents)
            count += 1
            expected = states[last - 1] if torn == after else states[last - 2]
            assert found == expected
            untouched = torn in (before, after)
            assert reopened.report == (None if untouched else SKIPPED)
    return count


def test_power_cut_during_a_save_keeps_the_previous_state():
    assert check_cut_saves(seeded(1), every=False, subsets=12) > 400


@pytest.mark.exhaustive
def test_power_cut_at_every_byte_of_a_save_keeps_the_previous_state(capsys):
    count = check_cut_saves(seeded(2), every=True, subsets=400)
    report(capsys, f"{count} disk states after a cut save, 0 wrong")
    assert count > 50_000


def test_save_after_a_power_cut_is_found_again():
    rng = seeded(3)
    files, body = saved_body(b"one", b"two")
    before = bytes(files[0].content)
    other = bytes(files[1].content)
    files[0].log.clear()
    body.save(b"three" * 300)
    for torn in power_cut_states(before, files[0].log, rng):
        _, reopened = loaded((torn, other))
        reopened.save(b"after the cut")
        contents = [bytes(file.content) for file in reopened._files]
        found, again = loaded(contents)
        assert found == b"after the cut"
        assert again.report is None


async def cut_put(tmp_path, rng, rounds, every):
    """Cut the save of a whole vault; open each state with the passphrase."""
    disk = FaultyDisk()
    folder = tmp_path / "v"
    vault, _ = await create_vault(
        folder, "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    count = 0
    for turn in range(rounds):
        before = folder_bytes(folder)
        disk.log.clear()
        text = "x" * rng.randrange(2000)
        vault.drafts.put("e1", {"turn": turn, "text": text})
        name = disk.log[0][0]
        steps = [step for _, step in disk.log]
        after = folder_bytes(folder)[name]
        for torn in power_cut_states(before[name], steps, rng, every, 12):
            fill_folder(tmp_path / "cut", before | {name: torn})
            opened = await open_vault(tmp_path / "cut", "hoof", bounds=TEST_BOUNDS)
            draft = opened.drafts.get("e1") or {"turn": -1}
            assert draft["turn"] == (turn if torn == after else turn - 1)
            opened.close()
            count += 1
    vault.close()
    return count


async def test_power_cut_while_a_draft_is_saved_keeps_the_previous_draft(tmp_path):
    assert await cut_put(tmp_path, seeded(4), 4, every=False) > 150


@pytest.mark.exhaustive
async def test_power_cut_at_every_byte_of_a_draft_keeps_the_previous(tmp_path, capsys):
    count = await cut_put(tmp_path, seeded(5), 12, every=True)
    report(capsys, f"{count} vault folders after a cut save opened, 0 wrong")


async def opens_with(folder, passphrase):
    try:
        vault = await open_vault(folder, passphrase, bounds=TEST_BOUNDS)
    except WrongPassphraseError:
        return False
    assert vault.settings.get("clinic") == "Demo clinic"
    vault.close()
    return True


async def check_cut_key_changes(tmp_path, rng, every, subsets):
    disk = FaultyDisk()
    folder = tmp_path / "v"
    vault, _ = await create_vault(
        folder, "old", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    vault.settings.put("clinic", "Demo clinic")
    before = folder_bytes(folder)
    disk.log.clear()
    await vault.change_passphrase("old", "new")
    vault.close()
    assert {name for name, _ in disk.log} == {"vault.head"}
    steps = [step for _, step in disk.log]
    first_flush = steps.index(("flush",)) + 1
    head = bytearray(before["vault.head"])
    for step in steps[:first_flush]:
        apply_step(head, step)
    half = bytes(head)
    count = 0
    for start, part in (
        (before["vault.head"], steps[:first_flush]),
        (half, steps[first_flush:]),
    ):
        for torn in power_cut_states(start, part, rng, every, subsets):
            fill_folder(tmp_path / "cut", before | {"vault.head": torn})
            opened = [
                word
                for word in ("old", "new")
                if await opens_with(tmp_path / "cut", word)
            ]
            is_old = half not in (start, torn)
            assert opened == (["old"] if is_old else ["new"])
            count += 1
    return count


async def test_crash_in_a_passphrase_change_leaves_the_old_or_the_new(tmp_path):
    assert (
        await check_cut_key_changes(tmp_path, seeded(6), every=False, subsets=12) > 100
    )


@pytest.mark.exhaustive
async def test_crash_at_every_byte_of_a_passphrase_change(tmp_path, capsys):
    count = await check_cut_key_changes(tmp_path, seeded(7), every=True, subsets=300)
    report(
        capsys, f"{count} states of a cut passphrase change, each opened by exactly one"
    )


async def test_after_a_cut_passphrase_change_no_page_keeps_the_old_one(tmp_path):
    disk = FaultyDisk()
    folder = tmp_path / "v"
    vault, _ = await create_vault(
        folder, "old", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    old_slot = vault._head.newest().slots[0]
    disk.fail_at, disk.only = disk.changes, "write"
    disk.changes, disk.fail_at = 0, 1
    await vault.change_passphrase("old", "new")
    vault.close()
    assert old_slot.wrapped in (folder / "vault.head").read_bytes()
    vault = await open_vault(folder, "new", bounds=TEST_BOUNDS)
    assert vault.damage_report is None
    vault.close()
    assert old_slot.wrapped not in (folder / "vault.head").read_bytes()


async def check_cut_creation(tmp_path, rng, every, subsets):
    disk = FaultyDisk()
    folder = tmp_path / "v"
    vault, _ = await create_vault(
        folder, "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    vault.close()
    contents = dict.fromkeys(("vault.head", "vault.a", "vault.b"), b"")
    counts = {True: 0, False: 0}
    for name, step in disk.log:
        for torn in power_cut_states(contents[name], [step], rng, every, subsets):
            fill_folder(tmp_path / "cut", contents | {name: torn})
            exists = vault_exists(tmp_path / "cut")
            counts[exists] += 1
            if exists:
                opened = await open_vault(tmp_path / "cut", "hoof", bounds=TEST_BOUNDS)
            else:
                opened, _ = await create_vault(
                    tmp_path / "cut", "other", CHEAP, bounds=TEST_BOUNDS
                )
            assert opened.animals.all() == []
            opened.close()
        grown = bytearray(contents[name])
        apply_step(grown, step)
        contents[name] = bytes(grown)
    return counts


async def test_cut_creation_can_be_opened_or_begun_again(tmp_path):
    counts = await check_cut_creation(tmp_path, seeded(8), every=False, subsets=12)
    assert min(counts.values()) > 20


@pytest.mark.exhaustive
async def test_creation_cut_at_every_byte_can_be_opened_or_begun_again(
    tmp_path, capsys
):
    counts = await check_cut_creation(tmp_path, seeded(9), every=True, subsets=100)
    report(capsys, f"{sum(counts.values())} states of a cut creation, 0 stuck")
