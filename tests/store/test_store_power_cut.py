"""After a power cut every disk state opens to the state before or the state after."""

import pytest

from exam_app.store.errors import WrongPassphraseError, WrongRecoveryCodeError
from exam_app.store.vault.folder import create_vault, vault_exists
from exam_app.store.vault.open import (
    KEYS_REPAIRED,
    TORN,
    loss_in,
    open_vault,
    open_vault_with_recovery_code,
)
from tests.store_disks import (
    CHEAP,
    TEST_BOUNDS,
    FaultyDisk,
    apply_step,
    fill_folder,
    folder_bytes,
    power_cut_states,
    seeded,
)
from tests.store_journals import begun, reread

SIZES = (40, 900, 5000, 300, 9000, 8999, 12, 2048)


def check_cut_saves(rng, every, subsets):
    """Cut the last of several saves at every moment; count the states."""
    count = 0
    opened = begun()
    for turn, size in enumerate(SIZES):
        before, shown_before = bytes(opened.file.content), opened.shown()
        mark = opened.mark
        opened.file.log.clear()
        text = rng.randbytes(size).hex()
        opened.table().put(f"e{turn % 3}", {"turn": turn, "draft": {"text": text}})
        after, shown_after = bytes(opened.file.content), opened.shown()
        log = list(opened.file.log)
        for torn in power_cut_states(before, log, rng, every, subsets):
            found = reread(torn, mark)
            count += 1
            expected = shown_after if torn == after else shown_before
            assert found.shown() == expected
            is_clean = torn in (before, after)
            said = loss_in(found.found)
            assert said == (None if is_clean else TORN)
    return count


def test_power_cut_during_a_save_keeps_the_previous_state():
    assert check_cut_saves(seeded(1), every=False, subsets=12) > 300


@pytest.mark.exhaustive
def test_power_cut_at_every_byte_of_a_save_keeps_the_previous_state():
    count = check_cut_saves(seeded(2), every=True, subsets=400)
    print(f"{count} disk states after a cut save, 0 wrong")
    assert count > 30_000


def test_save_after_a_power_cut_is_found_again():
    rng = seeded(3)
    opened = begun()
    opened.table().put("e1", {"draft": {"text": "one"}})
    before, mark = bytes(opened.file.content), opened.mark
    opened.file.log.clear()
    opened.table().put("e1", {"draft": {"text": rng.randbytes(900).hex()}})
    for torn in power_cut_states(before, list(opened.file.log), rng):
        # As without the cutting at the opening, which a full disk may refuse.
        found = reread(torn, mark)
        found.table().put("e2", {"draft": {"text": "after the cut"}})
        again = reread(found.file, found.mark)
        assert again.shown() == found.shown()
        assert loss_in(again.found) is None


def test_part_of_a_refused_save_that_stays_behind_does_not_harm_the_next():
    rng = seeded(4)
    opened = begun()
    opened.table().put("e1", {"draft": {"text": "one"}})
    sound, mark = bytes(opened.file.content), opened.mark
    opened.table().put("e1", {"draft": {"text": rng.randbytes(3000).hex()}})
    refused = bytes(opened.file.content)
    again = reread(sound, mark)
    again.file.log.clear()
    again.table().put("e1", {"draft": {"text": rng.randbytes(900).hex()}})
    after = bytes(again.file.content)
    for torn in power_cut_states(refused[:-100], list(again.file.log), rng):
        found = reread(torn, mark)
        assert found.shown() in (again.shown(), reread(sound, mark).shown())
        if torn[: len(after)] == after:
            assert found.shown() == again.shown()


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
        name = "vault.a"
        assert {named for named, _ in disk.log} == {name}
        steps = [step for _, step in disk.log]
        after = folder_bytes(folder)[name]
        for torn in power_cut_states(before[name], steps, rng, every, 8):
            fill_folder(tmp_path / "cut", before | {name: torn})
            opened = await open_vault(tmp_path / "cut", "hoof", bounds=TEST_BOUNDS)
            draft = opened.drafts.get("e1") or {"turn": -1}
            assert draft["turn"] == (turn if torn == after else turn - 1)
            opened.close()
            count += 1
    vault.close()
    return count


@pytest.mark.slow
async def test_power_cut_while_a_draft_is_saved_keeps_the_previous_draft(tmp_path):
    assert await cut_put(tmp_path, seeded(5), 3, every=False) > 90


@pytest.mark.exhaustive
async def test_power_cut_at_every_byte_of_a_draft_keeps_the_previous(tmp_path):
    count = await cut_put(tmp_path, seeded(6), 6, every=True)
    print(f"{count} vault folders after a cut save opened, 0 wrong")


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
        await check_cut_key_changes(tmp_path, seeded(7), every=False, subsets=12) > 100
    )


@pytest.mark.exhaustive
async def test_crash_at_every_byte_of_a_passphrase_change(tmp_path):
    count = await check_cut_key_changes(tmp_path, seeded(8), every=True, subsets=300)
    print(f"{count} states of a cut passphrase change, each opened by exactly one")


async def test_after_a_cut_passphrase_change_no_page_keeps_the_old_one(tmp_path):
    disk = FaultyDisk()
    folder = tmp_path / "v"
    vault, _ = await create_vault(
        folder, "old", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    old_slot = vault._files.head.newest().slots[0]
    disk.fail_at, disk.only = disk.changes, "write"
    disk.changes, disk.fail_at = 0, 1
    await vault.change_passphrase("old", "new")
    vault.close()
    assert old_slot.wrapped in (folder / "vault.head").read_bytes()
    vault = await open_vault(folder, "new", bounds=TEST_BOUNDS)
    assert vault.damage_report is None
    vault.close()
    assert old_slot.wrapped not in (folder / "vault.head").read_bytes()


async def opening(folder, way, secret):
    """Open; give the vault, or None where the secret is refused."""
    try:
        return await way(folder, secret, bounds=TEST_BOUNDS)
    except (WrongPassphraseError, WrongRecoveryCodeError):
        return None


async def recorded(tmp_path, act):
    """Do something to a filled vault; give the contents before and all steps."""
    disk = FaultyDisk()
    folder = tmp_path / "v"
    vault, code = await create_vault(
        folder, "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    for turn in range(30):
        vault.settings.put("turn", turn)
        vault.drafts.put(f"e{turn % 3}", {"turn": turn})
    before = folder_bytes(folder)
    disk.log.clear()
    new_code = await act(vault)
    steps = list(disk.log)
    vault.close()
    return before, steps, code, new_code


async def check_going_over(tmp_path, act, rng, every, subsets):
    """Cut writing the journal anew at every step; every state opens to the same."""
    before, steps, code, new_code = await recorded(tmp_path, act)
    assert {name for name, _ in steps} == {"vault.head", "vault.a", "vault.b"}
    contents, count = dict(before), 0
    for name, step in steps:
        # Every byte of a page is cut in the passphrase change already.
        is_page = name == "vault.head"
        states = power_cut_states(
            contents[name], [step], rng, every and not is_page, subsets
        )
        for torn in states:
            fill_folder(tmp_path / "cut", contents | {name: torn})
            vault = await opening(tmp_path / "cut", open_vault, "hoof")
            assert vault.settings.get("turn") == 29
            assert vault.drafts.get("e0") == {"turn": 27}
            assert vault.damage_report in (None, KEYS_REPAIRED)
            assert vault.audit().is_sound
            vault.settings.put("turn", 30)
            vault.close()
            # One of the two journals is empty again, whatever was cut.
            sizes = [len(folder_bytes(tmp_path / "cut")[f"vault.{x}"]) for x in "ab"]
            assert min(sizes) == 0
            count += 1
            if not is_page and count % 10:
                continue
            codes = 0
            for tried in {code, new_code or code}:
                way = open_vault_with_recovery_code
                again = await opening(tmp_path / "cut", way, tried)
                if again:
                    codes += 1
                    assert again.settings.get("turn") == 30
                    assert again.damage_report is None
                    again.close()
            assert codes == 1
        grown = bytearray(contents[name])
        apply_step(grown, step)
        contents[name] = bytes(grown)
    return count


async def write_anew(vault):
    vault.rewrite()


async def rotate(vault):
    new = await vault.new_data_key("hoof")
    vault.go_over(new)
    return new.code


@pytest.mark.slow
@pytest.mark.parametrize("act", [write_anew, rotate])
async def test_crash_while_the_journal_is_written_anew_loses_nothing(tmp_path, act):
    count = await check_going_over(tmp_path, act, seeded(11), every=False, subsets=2)
    assert count > 200


@pytest.mark.exhaustive
@pytest.mark.parametrize("act", [write_anew, rotate])
async def test_crash_at_every_byte_while_the_journal_is_written_anew(tmp_path, act):
    count = await check_going_over(tmp_path, act, seeded(12), every=True, subsets=40)
    print(f"{count} states of a cut {act.__name__}, 0 lost")


async def check_cut_creation(tmp_path, rng, every, subsets):
    disk = FaultyDisk()
    folder = tmp_path / "v"
    vault, _ = await create_vault(
        folder, "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    vault.close()
    names = ("vault.head", "vault.a", "vault.b", "vault.reserve")
    contents = dict.fromkeys(names, b"")
    log = [(name, step) for name, step in disk.log if name != "vault.reserve"]
    counts = {True: 0, False: 0}
    for name, step in log:
        every_byte = every and name != "vault.head"
        for torn in power_cut_states(contents[name], [step], rng, every_byte, subsets):
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


@pytest.mark.slow
async def test_cut_creation_can_be_opened_or_begun_again(tmp_path):
    counts = await check_cut_creation(tmp_path, seeded(9), every=False, subsets=12)
    assert min(counts.values()) > 20


@pytest.mark.exhaustive
async def test_creation_cut_at_every_byte_can_be_opened_or_begun_again(tmp_path):
    counts = await check_cut_creation(tmp_path, seeded(10), every=True, subsets=100)
    print(f"{sum(counts.values())} states of a cut creation, 0 stuck")
