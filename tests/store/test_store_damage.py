"""Damage at rest: flips, cuts, swapped and replaced frames. Nothing wrong is shown."""

import itertools

import pytest

from exam_app.store.engine.format import (
    HEADER_LENGTH,
    PREFIX_LENGTH,
    Mark,
    derive_frame_keys,
)
from exam_app.store.engine.replay import find_frames
from exam_app.store.errors import (
    DocumentDamagedError,
    NoVaultError,
    VaultAlteredError,
    VaultDamagedError,
    VaultError,
)
from exam_app.store.vault.folder import create_vault, vault_exists
from exam_app.store.vault.open import (
    KEYS_REPAIRED,
    OTHER_COPY,
    TORN,
    loss_in,
    open_vault,
    saves_missing,
)
from tests.store_disks import (
    CHEAP,
    TEST_BOUNDS,
    MemoryFile,
    fill_folder,
    folder_bytes,
    seeded,
)
from tests.store_journals import KEY, KEYS, VAULT_ID, begun, reread, written_anew

NAMES = ("e1", "e2", "e3")


def draft(turn, size=20):
    return {"turn": turn, "draft": {"text": f"turn {turn} " * size}}


def day():
    """A journal written anew and five more saves: its bytes, mark and states."""
    opened = begun()
    for name in NAMES:
        opened.table().put(name, draft(0))
    opened = written_anew(opened)
    states = [opened.shown()]
    for turn in range(1, 6):
        with opened.storage.transaction():
            opened.table().put(NAMES[turn % 3], draft(turn, turn))
            if turn == 4:
                opened.table().discard("e1")
        states.append(opened.shown())
    return bytes(opened.file.content), opened.mark, states


CONTENT, MARK, STATES = day()


def frame_starts(content=CONTENT):
    return [at for at, _ in find_frames(MemoryFile(content), KEYS, 0)]


def judge(content, mark=MARK):
    """What an opening and, if nothing was said, a full audit make of some bytes.

    Returns:
        "refused", "reported", "audit" or "unnoticed", and the state that was shown.
    """
    try:
        opened = reread(content, mark)
    except VaultDamagedError:
        return "refused", None
    try:
        shown = opened.shown()
    except DocumentDamagedError:
        shown = None
    except VaultDamagedError:
        return "refused", None
    if loss_in(opened.found):
        return "reported", shown
    return ("unnoticed" if opened.audit().is_sound else "audit"), shown


def flipped(content, position, mask):
    changed = bytearray(content)
    changed[position] ^= mask
    return bytes(changed)


def check_flips(positions, masks_of):
    counts = {"refused": 0, "reported": 0, "audit": 0}
    for position in positions:
        for mask in masks_of():
            verdict, shown = judge(flipped(CONTENT, position, mask))
            counts[verdict] += 1
            assert shown is None or shown in STATES
            if verdict == "audit":
                # What opens is whole; a damaged document is refused, not shown.
                assert shown in (None, STATES[-1])
    return counts


def field_boundaries():
    """The first and last byte of every field of every frame."""
    near = {0, 15, 16, 17, 18, 33, 34, 49, 50, 61, 62, HEADER_LENGTH - 1}
    for at, prefix in find_frames(MemoryFile(CONTENT), KEYS, 0):
        head = PREFIX_LENGTH + prefix.head_length
        for edge in (0, 8, 16, 20, 28, 44, 56, PREFIX_LENGTH, head - 16, head):
            near |= {at + edge - 1, at + edge, at + edge + 1}
        near |= {at + prefix.length - 17, at + prefix.length - 1}
    return sorted(position for position in near if 0 <= position < len(CONTENT))


def test_sound_journal_is_neither_refused_nor_reported():
    assert judge(CONTENT) == ("unnoticed", STATES[-1])


def test_flip_at_every_field_boundary_is_noticed():
    rng = seeded(1)
    counts = check_flips(field_boundaries(), lambda: [1, rng.randrange(2, 256)])
    assert min(counts.values()) > 20


def test_flip_in_a_sample_of_bytes_is_noticed():
    rng = seeded(2)
    positions = [rng.randrange(len(CONTENT)) for _ in range(600)]
    check_flips(positions, lambda: [rng.randrange(1, 256)])


@pytest.mark.exhaustive
def test_flip_in_every_byte_of_a_journal_is_noticed():
    counts = check_flips(range(len(CONTENT)), lambda: (1, 2, 4, 8, 16, 32, 64, 128))
    print(f"{sum(counts.values())} flips in a journal, 0 silent: {counts}")


def check_cuts(lengths):
    count = 0
    for length in lengths:
        verdict, shown = judge(CONTENT[:length])
        assert verdict in ("refused", "reported")
        assert shown is None or shown in STATES[:-1]
        zeroed, shown = judge(CONTENT[:length].ljust(len(CONTENT), b"\0"))
        assert zeroed in ("refused", "reported", "audit", "unnoticed")
        assert zeroed != "unnoticed" or not any(CONTENT[length:])
        count += 2
    return count


def test_file_cut_or_zeroed_anywhere_is_noticed():
    rng = seeded(3)
    sample = [rng.randrange(len(CONTENT)) for _ in range(400)]
    check_cuts(sorted({*field_boundaries(), *frame_starts(), *sample}))


@pytest.mark.exhaustive
def test_file_cut_or_zeroed_at_every_byte_is_noticed():
    count = check_cuts(range(len(CONTENT)))
    print(f"{count} truncations of a journal, 0 silent")


def test_cut_says_how_many_saves_are_missing_and_shows_the_state_before():
    starts = frame_starts()
    for back in range(1, 6):
        opened = reread(CONTENT[: starts[-back]], MARK)
        assert opened.found.missing == back
        assert opened.shown() == STATES[-1 - back]
        assert f"{back} saves" in saves_missing(back) or back == 1


def test_bytes_behind_the_last_save_are_a_torn_tail():
    for tail in (b"\0", b"x" * 600, CONTENT[: HEADER_LENGTH + 30]):
        opened = reread(CONTENT + tail, MARK)
        assert loss_in(opened.found) == TORN
        assert opened.shown() == STATES[-1]


def test_torn_tail_that_begins_like_a_frame_is_no_alteration():
    rng = seeded(7)
    start = frame_starts()[-2]
    prefix = CONTENT[start : start + PREFIX_LENGTH]
    tails = [KEYS.marker + rng.randbytes(length) for length in (0, 30, 64, 500)]
    tails += [flipped(prefix, position, 1) for position in (15, 43, 55, 71)]
    for tail in tails:
        opened = reread(CONTENT + b"x" + tail, MARK)
        assert loss_in(opened.found) == TORN


def test_save_of_another_copy_never_follows_one_of_this():
    opened = begun()
    opened.table().put("e1", draft(1))
    copy = reread(bytes(opened.file.content), opened.mark)
    opened.table().put("e1", draft(2))
    copy.table().put("e1", draft(3))
    copy_end = len(copy.file.content)
    copy.table().put("e1", draft(4))
    spliced = bytes(opened.file.content) + bytes(copy.file.content[copy_end:])
    with pytest.raises(VaultAlteredError):
        reread(spliced, opened.mark)


def pieces():
    starts = [*frame_starts(), len(CONTENT)]
    head = CONTENT[: starts[0]]
    return head, [CONTENT[a:b] for a, b in itertools.pairwise(starts)]


def test_frames_swapped_dropped_duplicated_or_replayed_are_noticed():
    head, parts = pieces()
    count = 0
    for first, second in itertools.combinations(range(len(parts)), 2):
        order = list(range(len(parts)))
        order[first], order[second] = order[second], order[first]
        changed = head + b"".join(parts[number] for number in order)
        verdict, shown = judge(changed)
        assert verdict == "refused" or shown in STATES
        assert verdict != "unnoticed"
        count += 1
    for number in range(len(parts)):
        dropped = head + b"".join(parts[:number] + parts[number + 1 :])
        doubled = head + b"".join(parts[: number + 1] + parts[number:])
        replayed = CONTENT + parts[number]
        for changed in (dropped, doubled):
            assert judge(changed)[0] != "unnoticed"
        with pytest.raises(VaultAlteredError):
            reread(replayed, MARK)
        count += 3
    assert count > 40


def test_older_body_of_a_document_cannot_take_the_place_of_a_newer_one():
    opened = begun()
    table = opened.table()
    table.put("e1", {"draft": "q7x"})
    old = opened.storage.entry("drafts", "e1")[1]
    table.put("e1", {"draft": "z2k"})
    new = opened.storage.entry("drafts", "e1")[1]
    content = bytearray(opened.file.content)
    old_at, length = int.from_bytes(old[:8]), int.from_bytes(old[8:12])
    new_at = int.from_bytes(new[:8])
    assert length == int.from_bytes(new[8:12])
    content[new_at : new_at + length] = content[old_at : old_at + length]
    opened = reread(bytes(content), opened.mark)
    assert opened.found.missing == 1
    assert opened.table().fetch("e1") == {"draft": "q7x"}


def test_frames_of_another_journal_of_the_same_vault_are_refused():
    keys = derive_frame_keys(KEY, VAULT_ID, b"another journal!")
    other = begun(keys=keys)
    other.table().put("e1", draft(9))
    theirs = bytes(other.file.content)
    with pytest.raises(VaultDamagedError):
        reread(theirs, Mark())
    start = next(at for at, _ in find_frames(MemoryFile(theirs), keys, 0))
    for at in (frame_starts()[-1], len(CONTENT)):
        assert judge(CONTENT[:at] + theirs[start:])[0] == "reported"


def test_two_copies_that_went_different_ways_are_told_apart():
    opened = begun()
    opened.table().put("e1", draft(1))
    copy = reread(bytes(opened.file.content), opened.mark)
    opened.table().put("e1", draft(2))
    copy.table().put("e1", draft(3))
    copy.table().put("e1", draft(4))
    back = reread(copy.file, opened.mark)
    assert loss_in(back.found) == OTHER_COPY
    assert back.table().fetch("e1") == draft(4)


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
    found = vault.damage_report
    vault.acknowledge_damage("Alex Rowan", "2026-11-28 09:30")
    vault.close()
    return found


async def check_head_flips(tmp_path, whole, positions, rng):
    for position in positions:
        head = flipped(whole["vault.head"], position, rng.randrange(1, 256))
        found = await check_folder(tmp_path / "f", whole | {"vault.head": head})
        assert found == KEYS_REPAIRED
        repaired = await check_folder(tmp_path / "f", folder_bytes(tmp_path / "f"))
        assert repaired is None


@pytest.mark.slow
async def test_flip_in_the_head_is_noticed_and_repaired(tmp_path, whole):
    rng = seeded(4)
    used = [*range(0, 363, 8), *range(4096, 4096 + 363, 8), 4095, 8191]
    padding = [rng.randrange(8192) for _ in range(20)]
    await check_head_flips(tmp_path, whole, used + padding, rng)


@pytest.mark.exhaustive
async def test_flip_in_every_byte_of_the_head_is_repaired(tmp_path, whole):
    await check_head_flips(tmp_path, whole, range(8192), seeded(5))
    print("8192 flips in the head, 0 silent, all repaired")


async def test_both_head_pages_damaged_is_refused_and_nothing_is_written(
    tmp_path, whole
):
    rng = seeded(6)
    for _ in range(40):
        head = flipped(whole["vault.head"], rng.randrange(4096), 1)
        head = flipped(head, 4096 + rng.randrange(4096), 1)
        found = await check_folder(tmp_path / "f", whole | {"vault.head": head})
        assert found is VaultDamagedError


async def test_head_cut_anywhere_opens_or_is_refused(tmp_path, whole):
    for length in (*range(0, 4096, 251), 4095, 4096, 4097, *range(5000, 8192, 251)):
        head = whole["vault.head"][:length]
        found = await check_folder(tmp_path / "f", whole | {"vault.head": head})
        if length < 4096:
            assert found is VaultDamagedError
        else:
            assert found == KEYS_REPAIRED


async def test_damaged_folder_keeps_the_torn_part_aside_and_is_sound_again(
    tmp_path, whole
):
    torn = whole | {"vault.a": whole["vault.a"] + b"half a save"}
    assert await check_folder(tmp_path / "f", torn) == TORN
    after = folder_bytes(tmp_path / "f")
    assert after["vault.torn"] == b"half a save"
    assert after["vault.a"].startswith(whole["vault.a"])
    assert b"half a save" not in after["vault.a"]
    assert await check_folder(tmp_path / "g", after) is None


async def test_altered_save_in_the_middle_refuses_and_writes_nothing(tmp_path, whole):
    # Behind the header and the empty index stand two saves; this is the first.
    content = flipped(whole["vault.a"], 78 + 89 + 20, 1)
    found = await check_folder(tmp_path / "f", whole | {"vault.a": content})
    assert found is VaultAlteredError


async def test_older_copy_of_the_journal_is_reported(tmp_path):
    vault, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    vault.settings.put("clinic", "Demo clinic")
    older = (tmp_path / "v" / "vault.a").read_bytes()
    for turn in range(3):
        vault.settings.put("turn", turn)
    vault.close()
    contents = folder_bytes(tmp_path / "v") | {"vault.a": older}
    assert await check_folder(tmp_path / "f", contents) == saves_missing(3)


async def test_missing_files_are_never_taken_for_an_empty_folder(tmp_path, whole):
    for name in ("vault.head", "vault.a"):
        folder = tmp_path / name
        fill_folder(folder, {key: whole[key] for key in whole if key != name})
        assert vault_exists(folder)
        with pytest.raises(VaultDamagedError):
            await open_vault(folder, "hoof", bounds=TEST_BOUNDS)


async def test_folder_without_a_vault_is_no_vault(tmp_path):
    assert not vault_exists(tmp_path / "none")
    assert not vault_exists(tmp_path)
    for folder in (tmp_path, tmp_path / "none"):
        with pytest.raises(NoVaultError):
            await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
    assert list(tmp_path.iterdir()) == []
