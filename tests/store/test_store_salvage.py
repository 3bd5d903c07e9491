"""What salvage says of a damaged journal is true: nothing is lost in silence."""

import collections
import itertools
import re

import pytest

from exam_app.crypto import door
from exam_app.store.engine.format import Mark
from exam_app.store.engine.journal import Journal, Reserve
from exam_app.store.engine.replay import Replayed, find_frames
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault
from exam_app.store.vault.restore import Secrets, salvage_vault
from exam_app.store.vault.salvage import salvage
from tests.store_disks import (
    CHEAP,
    TEST_BOUNDS,
    FaultyDisk,
    MemoryFile,
    fill_folder,
    folder_bytes,
    seeded,
)
from tests.store_journals import KEYS, begun, reread, written_anew

SECRETS = Secrets("hoof", "hoof", CHEAP, TEST_BOUNDS)


def texts(rng, size):
    return {"text": rng.randbytes(rng.randrange(1, size)).hex()}


def examined(opened, rng, number, rounds=4):
    """One exam as a device saves it: drafts, then closed and the draft removed."""
    key = f"e{number}"
    drafts, closed = opened.table(), opened.table("closed")
    for turn in range(rounds):
        drafts.put(key, {"turn": turn, "draft": texts(rng, 300)})
    with opened.storage.transaction():
        closed.put(key, {"name": f"Demo {number}", "draft": texts(rng, 500)})
        drafts.discard(key)


def day(seed, *, rewritten_after=0, animals=6, exams=6, was_closed=True):
    """A journal, its mark, its state as documents, and whether it was closed."""
    rng = seeded(seed)
    opened = begun()
    mark = opened.mark
    for number in range(animals):
        opened.table("animals").put(f"a{number}", {"name": f"Demo {number}"})
    for number in range(exams):
        examined(opened, rng, number)
        if number + 1 == rewritten_after:
            opened = written_anew(opened)
            mark = opened.mark
    opened.table("notes").put("n1", {"exam_id": "e1", "draft": texts(rng, 200)})
    opened.table("animals").discard("a1")
    opened.table("later").put("x", {"draft": "gone"})
    opened.storage.write(
        {name: rows for name, rows in opened.storage.read().items() if name != "later"}
    )
    opened.table().put("open", {"turn": 1, "draft": texts(rng, 200)})
    opened.table().put("open", {"turn": 2, "draft": texts(rng, 200)})
    mark = opened.mark if was_closed else mark
    return bytes(opened.file.content), mark, documents(opened.storage), was_closed


def documents(storage):
    return {
        (table, key): document
        for table, rows in (storage.read() or {}).items()
        for key, document in rows.items()
    }


DAYS = {
    "closed": day(1),
    "rewritten": day(2, rewritten_after=4),
    "many chunks": day(3, rewritten_after=5, animals=300),
    "killed": day(4, rewritten_after=3, was_closed=False),
}


def taken_out(content, mark, was_closed):
    file = MemoryFile(content)
    found = salvage(file, KEYS, mark, was_closed=was_closed)
    state = Replayed(tables=found.tables, end=len(content), size=len(content))
    journal = Journal(file, KEYS, state, Reserve(MemoryFile()))
    return found, documents(SealedStorage(journal, found.tables))


def judge(content, mark, truth, was_closed):
    """Compare what salvage says with what is there.

    Returns:
        "silent" or "wrong number"; "nothing lost", "counted" or "not counted"; or
        "not counted, nothing lost" where it could not know so.
    """
    found, got = taken_out(content, mark, was_closed)
    gone = {key for key in truth if key not in got}
    stale = {key for key in truth if key in got and got[key] != truth[key]}
    back = {key for key in got if key not in truth}
    lost, older = set(found.lost), set(found.older)
    is_lost = bool(gone or stale or back)
    assert found.is_whole == ("Nothing is missing" in found.sentence)
    if found.is_whole:
        return "silent" if is_lost else "nothing lost"
    if found.is_counted:
        return (
            "counted" if (gone, stale, back) == (lost, older, set()) else "wrong number"
        )
    assert "cannot be" in found.sentence
    if was_closed and not (lost <= gone and older <= stale):
        return "wrong number"
    if lost & got.keys() or older - got.keys():
        return "wrong number"
    return "not counted" if is_lost else "not counted, nothing lost"


def spans(content, rng, longest=3000):
    start = rng.randrange(len(content))
    return start, min(len(content), start + rng.randrange(1, longest))


def frames_of(content):
    starts = [at for at, _ in find_frames(MemoryFile(content), KEYS, 0)]
    edges = [*starts, len(content)]
    return content[: starts[0]], [content[a:b] for a, b in itertools.pairwise(edges)]


def flip(content, rng):
    changed = bytearray(content)
    for _ in range(rng.choice((1, 1, 1, 2, 5))):
        changed[rng.randrange(len(changed))] ^= rng.randrange(1, 256)
    return bytes(changed)


def cut(content, rng):
    return content[: rng.randrange(len(content))]


def zero(content, rng):
    start, end = spans(content, rng)
    return content[:start] + bytes(end - start) + content[end:]


def garble(content, rng):
    start, end = spans(content, rng)
    return content[:start] + rng.randbytes(end - start) + content[end:]


def leave_out(content, rng):
    start, end = spans(content, rng)
    return content[:start] + content[end:]


def move(content, rng):
    start, end = spans(content, rng)
    piece, rest = content[start:end], content[:start] + content[end:]
    place = rng.randrange(len(rest) + 1)
    return rest[:place] + piece + rest[place:]


def copy_over(content, rng):
    start, end = spans(content, rng)
    place = rng.randrange(len(content))
    return content[:place] + content[start:end] + content[place + end - start :]


def double(content, rng):
    start, end = spans(content, rng)
    place = rng.randrange(len(content) + 1)
    return content[:place] + content[start:end] + content[place:]


def swap_frames(content, rng):
    head, parts = frames_of(content)
    first, second = rng.randrange(len(parts)), rng.randrange(len(parts))
    parts[first], parts[second] = parts[second], parts[first]
    return head + b"".join(parts)


def drop_frames(content, rng):
    head, parts = frames_of(content)
    for _ in range(rng.choice((1, 1, 2, 4))):
        del parts[rng.randrange(len(parts))]
    return head + b"".join(parts)


def drop_last(content, rng):
    head, parts = frames_of(content)
    return head + b"".join(parts[: rng.randrange(len(parts))])


def spoil_frame(content, rng):
    """Damage the body or the head of one frame, and cut the end as well."""
    return flip(drop_last(content, rng), rng)


WAYS = (
    flip,
    cut,
    zero,
    garble,
    leave_out,
    move,
    copy_over,
    double,
    swap_frames,
    drop_frames,
    drop_last,
    spoil_frame,
)


def mutate(rng, rounds):
    """Damage every day in every way so many times; count the verdicts by way."""
    counts = collections.defaultdict(collections.Counter)
    for way in WAYS:
        for content, *known in DAYS.values():
            for _ in range(rounds):
                counts[way.__name__][judge(way(content, rng), *known)] += 1
    return counts


def test_sound_journals_are_said_to_be_whole():
    for name, (content, mark, truth, was_closed) in DAYS.items():
        found, got = taken_out(content, mark, was_closed)
        assert got == truth
        assert found.is_whole == was_closed, name
        if not was_closed:
            assert "cannot be known" in found.sentence


@pytest.mark.slow
def test_damage_of_every_kind_is_never_silent_and_no_number_is_wrong():
    counts = mutate(seeded(11), 4)
    total = sum(counts.values(), collections.Counter())
    assert total["silent"] == total["wrong number"] == 0, counts
    assert total["counted"] > 5
    assert total["not counted"] > 60


@pytest.mark.exhaustive
def test_five_thousand_damaged_journals_lose_nothing_in_silence():
    counts = mutate(seeded(12), 120)
    total = sum(counts.values(), collections.Counter())
    lines = [f"{way}: {dict(found)}" for way, found in counts.items()]
    tried = sum(total.values())
    lost = tried - total["nothing lost"] - total["not counted, nothing lost"]
    print(
        "\n".join(lines) + f"\n{tried} damaged journals tried, {lost} lost something, "
        f"{total['silent']} silent, {total['wrong number']} wrong numbers",
    )
    assert total["silent"] == total["wrong number"] == 0
    assert tried > 5000


@pytest.mark.exhaustive
def test_a_cut_at_every_byte_is_counted_or_said_not_to_be():
    counts = collections.Counter()
    for content, *known in (DAYS["closed"], DAYS["rewritten"]):
        for length in range(len(content)):
            counts[judge(content[:length], *known)] += 1
    print(f"cuts at every byte: {dict(counts)}")
    assert counts["silent"] == counts["wrong number"] == 0


def test_lost_index_is_no_loss_where_the_saves_before_it_stand():
    for name in ("rewritten", "many chunks"):
        content, mark, *known = DAYS[name]
        for offset in (0, 80, 200):
            changed = bytearray(content)
            changed[mark_of_index(content, mark) + offset] ^= 1
            assert judge(bytes(changed), mark, *known) == "nothing lost"


def test_lost_saves_before_a_whole_index_are_no_loss_while_their_bodies_open():
    content, mark, *known = DAYS["rewritten"]
    starts = [at for at, _ in find_frames(MemoryFile(content), KEYS, 0)]
    changed = bytearray(content)
    changed[starts[1] + 3] ^= 1
    assert judge(bytes(changed), mark, *known) == "nothing lost"


def mark_of_index(content, mark):
    assert mark.index_offset
    assert content[mark.index_offset : mark.index_offset + 8] == KEYS.marker
    return mark.index_offset


def test_save_of_another_copy_does_not_stand_in_for_the_lost_one():
    opened = begun()
    opened.table().put("e1", {"draft": "one"})
    copy = reread(bytes(opened.file.content), opened.mark)
    copy.table().put("e1", {"draft": "theirs"})
    copy.table().put("e1", {"draft": "theirs again"})
    start = len(opened.file.content)
    opened.table().put("e1", {"draft": "two"})
    opened.table().put("e2", {"draft": "three"})
    spliced = bytearray(opened.file.content) + copy.file.content[start:]
    spliced[start + 100] ^= 1
    found, got = taken_out(bytes(spliced), opened.mark, was_closed=True)
    assert got == {
        ("drafts", "e1"): {"draft": "one"},
        ("drafts", "e2"): {"draft": "three"},
    }
    assert not found.is_counted
    # The other copy under this head: what it holds is taken out, and said to be it.
    found, got = taken_out(bytes(copy.file.content), opened.mark, was_closed=True)
    assert got == {("drafts", "e1"): {"draft": "theirs again"}}
    assert "another copy" in found.sentence


def test_journal_without_anything_readable_says_so():
    found, got = taken_out(b"x" * 5000, Mark(78, 9, b"t" * 16), was_closed=True)
    assert got == {}
    assert found.sentence.startswith("Taken out whole: nothing.")
    assert "8 parts" in found.sentence


async def test_journal_cut_in_the_middle_does_not_say_that_one_exam_is_lost(tmp_path):
    rng = seeded(5)
    vault, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    for number in range(8):
        vault.closed.put(
            ClosedExam(exam_id=f"c{number}", animal_id="a1"), rng.randbytes(12_000)
        )
    vault.close()
    contents = folder_bytes(tmp_path / "v")
    fill_folder(tmp_path / "bad", contents | {"vault.a": contents["vault.a"][:60_000]})
    again, _, found = await salvage_vault(tmp_path / "bad", tmp_path / "new", SECRETS)
    kept = len(again.closed.latest(99))
    again.close()
    assert kept < 5
    assert not found.is_counted
    assert len(found.lost) <= 8 - kept
    assert f"Taken out whole: {kept} signed records" in found.sentence
    missing = int(re.search(r"(\d+) parts of the file", found.sentence)[1])
    assert missing + len(found.lost) + len(found.unsure) == 8 - kept
    assert "cannot be counted" in found.sentence


async def filled(folder, disk=None):
    given = {"opener": disk.open} if disk else {}
    vault, _ = await create_vault(folder, "hoof", CHEAP, bounds=TEST_BOUNDS, **given)
    vault.settings.put("clinic", "Demo clinic")
    vault.close()
    return folder


async def test_save_is_announced_in_the_head_before_it_is_made(tmp_path):
    disk = FaultyDisk()
    folder = await filled(tmp_path / "v", disk)
    disk.log.clear()
    vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS, opener=disk.open)
    assert disk.log == []
    vault.settings.put("theme", "dark")
    vault.settings.put("theme", "light")
    steps = [(name, step[0]) for name, step in disk.log]
    head = [("vault.head", "write"), ("vault.head", "flush")]
    save = [("vault.a", "write"), ("vault.a", "flush")]
    assert steps == [*head, *save, *save]
    vault.close()


async def salvaged(folder, tmp_path):
    again, _, found = await salvage_vault(folder, tmp_path / "out", SECRETS)
    again.close()
    return found


async def test_only_a_store_that_was_closed_is_said_to_lack_nothing(tmp_path):
    folder = await filled(tmp_path / "v")
    closed = folder_bytes(folder)
    vault = await open_vault(folder, "hoof", bounds=TEST_BOUNDS)
    vault.settings.put("theme", "dark")
    killed = folder_bytes(folder)
    vault.close()
    # As a kill leaves it, with the newest save gone entirely.
    cut = killed | {"vault.a": closed["vault.a"]}
    second = closed["vault.head"][4096:]
    for name, contents, is_whole in (
        ("closed", closed, True),
        ("killed", killed, False),
        ("cut", cut, False),
        ("one page", closed | {"vault.head": bytes(4096) + second}, False),
    ):
        fill_folder(tmp_path / name, contents)
        fill = tmp_path / f"{name}-out"
        fill.mkdir()
        found = await salvaged(tmp_path / name, fill)
        assert found.is_whole == is_whole, name
        assert ("cannot be known" in found.sentence) == (not is_whole)


async def test_closing_seal_that_was_made_up_is_not_believed(tmp_path):
    folder = await filled(tmp_path / "v")
    contents = folder_bytes(folder)
    for at in (0, 4096):
        page = bytearray(contents["vault.head"][at : at + 4064])
        if any(page[362:390]):
            page[389] ^= 1
            page += door.sha256(bytes(page))
            head = bytearray(contents["vault.head"])
            head[at : at + 4096] = page
            fill_folder(tmp_path / "bad", contents | {"vault.head": bytes(head)})
    found = await salvaged(tmp_path / "bad", tmp_path)
    assert not found.is_whole
