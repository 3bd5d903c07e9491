"""Lists beside the journal: the same answers with, without and with damaged ones."""

import asyncio
import random
import shutil

import pytest

from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outgoing import RECEIVED, SHOWN
from exam_app.store.engine.kept_lists import open_lists
from exam_app.store.engine.table_rows import TableRows
from exam_app.store.engine.tables import SealedTable
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import LISTS, open_vault
from tests.store_disks import CHEAP, TEST_BOUNDS, MemoryFile, folder_bytes

EXAMS = 700
# The last ones, and the revision of every second of the first six hundred.
WAITING = 60 + 300
NAMES = ("Bella", "Otto", 'Moss "the \\ cat"', "Wick", "Täñsy")


def record_of(number, **more):
    kept = {
        "animal_id": f"a{number % 300}",
        "title": f"exam {number}",
        "record_hash": f"{number:064x}",
        "group_exam": f"g{number}" if number % 7 == 0 else "",
    }
    return ClosedExam(exam_id=f"e{number}", **(kept | more))


def animal_of(number):
    name = f"Demo {NAMES[number % len(NAMES)]} {number}"
    return {"animal_id": f"a{number}", "name": name, "owner": {"name": f"Own {number}"}}


def add(vault, start, end):
    with vault.transaction():
        for number in range(start, end):
            vault.closed.put(record_of(number), b"signed %d" % number)
            vault.notes.put(f"n{number}", f"e{number // 2}", b"note %d" % number)
        for number in range(start // 2, end // 2):
            vault.animals.put(animal_of(number))


def revise(vault, number, revision):
    parent = record_of(number).record_hash
    record = record_of(number, revision=revision, parent_hash=parent)
    hashed = f"{number + revision * 100_000:064x}"
    record = ClosedExam(**(vars(record) | {"record_hash": hashed}))
    vault.closed.put(record, b"revised %d" % number)


def receive(vault, numbers, state=RECEIVED):
    hashes = [record_of(number).record_hash for number in numbers]
    Exchange(vault).outgoing.mark_records(hashes, state, "bundle")


async def opened(folder):
    return await open_vault(folder, "hoof", bounds=TEST_BOUNDS)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A folder with a store that was large enough for lists, and was closed."""
    folder = tmp_path_factory.mktemp("large") / "v"

    async def make():
        vault, _ = await create_vault(folder, "hoof", CHEAP, bounds=TEST_BOUNDS)
        add(vault, 0, EXAMS)
        for number in range(0, 600, 2):
            revise(vault, number, 1)
        receive(vault, range(640))
        vault.rewrite()
        vault.close()
        # What it holds is large now: the next opening makes room for lists.
        (await opened(folder)).close()

    asyncio.run(make())
    return folder


@pytest.fixture(scope="module")
def expected(made):
    """The answers of that store as it was made, without lists."""
    return asyncio.run(without_lists(made))


@pytest.fixture
def folder(made, tmp_path):
    shutil.copytree(made, tmp_path / "v")
    return tmp_path / "v"


def answers(vault):
    """Everything that lists have a part in, the plain answers beside them."""
    closed, animals = vault.closed, vault.animals
    words = ("bella", "demo own", '"the', "\\", "täñsy 4", "otto 11", "none such")
    ids = [f"e{number}" for number in range(0, EXAMS + 40, 9)]
    return {
        "search": [animals.search(text) for text in words],
        "first": [animals.search(text, 3) for text in words],
        "animal": [closed.for_animal(f"a{n}") for n in range(0, 300, 11)],
        "group": [closed.for_group(f"g{n}") for n in range(0, EXAMS, 35)],
        "revisions": [closed.revisions(exam_id) for exam_id in ids],
        "bytes": [closed.get(exam_id) for exam_id in ids],
        "latest": [closed.latest(count) for count in (1, 40, 300)],
        "notes": [vault.notes.for_exam(exam_id) for exam_id in ids],
        "count": vault.closed.count(),
        "waiting": Exchange(vault).not_handed_over(),
        "shown": [animals.shown(f"a{n}") for n in range(0, 400, 7)],
    }


async def without_lists(folder):
    """The answers of the same store where every list is missing."""
    plain = folder.parent / "plain"
    shutil.copytree(folder, plain)
    (plain / LISTS).unlink(missing_ok=True)
    vault = await opened(plain)
    found = answers(vault)
    vault.close()
    shutil.rmtree(plain)
    return found


def has_lists(vault):
    return not vault._storage.needs_lists()


@pytest.mark.slow
async def test_lists_answer_as_the_whole_index_does(folder, expected):
    vault = await opened(folder)
    assert has_lists(vault)
    found = answers(vault)
    assert len(found["waiting"]) == WAITING
    assert found["count"] == EXAMS
    assert [len(rows) for rows in found["first"]] == [3, 3, 3, 3, 3, 3, 0]
    vault.close()
    assert found == expected


async def test_few_parts_of_the_index_are_read_where_lists_are(folder, monkeypatch):
    read = []
    plain = TableRows._chunk
    monkeypatch.setattr(
        TableRows,
        "_chunk",
        lambda rows, number: read.append((id(rows), number)) or plain(rows, number),
    )
    vault = await opened(folder)
    vault.animals.search("bella 40")
    vault.closed.for_animal("a7")
    vault.closed.get("e30")
    Exchange(vault).not_handed_over()
    # Of seven parts of records and two of animals.
    assert len(set(read)) <= 8
    read.clear()
    vault.closed.everything()
    assert len(set(read)) == 4
    vault.close()


async def test_revised_records_are_looked_up_in_a_list_or_read_once(
    folder, monkeypatch
):
    asked = []
    plain = SealedTable.rows_with
    monkeypatch.setattr(
        SealedTable,
        "rows_with",
        lambda table, *what: asked.append(table.name) or plain(table, *what),
    )
    vault = await opened(folder)
    found = vault.closed.latest(40)
    assert asked == ["revised"] * 40
    vault.close()
    (folder / LISTS).unlink()
    asked.clear()
    vault = await opened(folder)
    assert vault.closed.latest(40) == found
    assert asked == []
    vault.close()


def move_to_other_animal(vault, number):
    if vault.closed.get(f"e{number}", record_of(number).record_hash):
        moved = record_of(number, animal_id="a7")
        vault.closed.put(moved, b"signed %d" % number)


def remove_exam(vault, number):
    vault.closed.remove(f"e{number}")
    vault.notes.remove(f"e{number}")


CHANGES = (
    lambda vault, _, turn: add(vault, EXAMS + 2 * turn, EXAMS + 2 * turn + 2),
    lambda vault, n, turn: revise(vault, n, 2 + turn),
    lambda vault, n, turn: receive(vault, [n], RECEIVED if turn % 2 else SHOWN),
    lambda vault, n, _: remove_exam(vault, n),
    lambda vault, n, turn: vault.animals.put(
        {**animal_of(n % 350), "name": f"Demo Bella new {turn}"}
    ),
    lambda vault, n, _: move_to_other_animal(vault, n),
    lambda vault, n, _: vault.animals._table.discard(f"a{n % 350}"),
    lambda vault, n, turn: vault.notes.put(f"m{turn}", f"e{n}", b"later %d" % turn),
)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
async def test_what_changed_since_the_lists_were_made_lies_over_them(folder, seed):
    rng = random.Random(seed)
    vault = await opened(folder)
    for turn in range(60):
        rng.choice(CHANGES)(vault, rng.randrange(EXAMS), turn)
    found = answers(vault)
    assert has_lists(vault)
    vault.close()
    assert found == await without_lists(folder)
    vault = await opened(folder)
    assert has_lists(vault)
    assert answers(vault) == found
    with vault.transaction():
        vault.animals.put({**animal_of(3), "name": "Demo Bella staged"})
        assert vault.animals.search("bella staged")
    vault.close()


async def test_a_state_that_came_back_is_not_missed(folder):
    vault = await opened(folder)
    table = vault.tables.open_table("handed_over", body_fields=())
    table.discard(record_of(5).record_hash)
    table.put(record_of(7).record_hash, {"state": SHOWN})
    waiting = [row.exam_id for row, _ in Exchange(vault).not_handed_over()]
    assert {"e5", "e7"} <= set(waiting)
    vault.close()
    assert len(waiting) == WAITING + 2


async def tries(folder, content, expected):
    """Open with these bytes for lists; the answers are right and lists come back."""
    (folder / LISTS).write_bytes(content)
    vault = await opened(folder)
    assert vault.damage_report is None
    assert answers(vault) == expected
    vault.close()
    vault = await opened(folder)
    assert has_lists(vault)
    assert (folder / LISTS).stat().st_size
    vault.close()


@pytest.mark.slow
@pytest.mark.parametrize(
    "each", [2, pytest.param(20, marks=pytest.mark.exhaustive)], ids=["few", "many"]
)
async def test_damaged_lists_are_noticed_and_made_anew(folder, expected, each):
    whole = (folder / LISTS).read_bytes()
    rng = random.Random(4)
    damaged = [whole[: rng.randrange(len(whole))] for _ in range(each)]
    damaged += [b"", whole[:-1], whole + b"\0", whole + whole, b"\xff" * len(whole)]
    damaged.append(whole[:18] + b"\xff\xff\xff\xff" + whole[22:])
    for _ in range(each):
        flipped = bytearray(whole)
        flipped[rng.randrange(len(whole))] ^= 1 << rng.randrange(8)
        damaged.append(bytes(flipped))
    half = len(whole) // 2
    damaged.append(whole[half:] + whole[:half])
    for content in damaged:
        await tries(folder, content, expected)


def pages_of(content, keys, tag):
    """Every page that opens, by its name; None where the directory does not."""
    lists = open_lists(MemoryFile(content), keys, tag)
    if lists is None:
        return None
    found = {}
    for name in lists._places:
        lists.is_damaged = False
        found[name] = lists.page(name)
    return found


async def check_flips(folder, places):
    vault = await opened(folder)
    journal = vault._storage.journal()
    keys, tag = journal.keys, journal.index_tag
    vault.close()
    whole = (folder / LISTS).read_bytes()
    sound = pages_of(whole, keys, tag)
    assert None not in sound.values()
    for place in places(len(whole)):
        flipped = bytearray(whole)
        flipped[place] ^= 0x20
        found = pages_of(bytes(flipped), keys, tag)
        wrong = [] if found is None else [n for n in sound if found[n] != sound[n]]
        # Only a padded directory could hold a byte that nothing covers: none does.
        assert found is None or [found[name] for name in wrong] == [None]
    return len(whole)


async def test_flip_anywhere_in_lists_costs_a_page_and_changes_none(folder):
    await check_flips(folder, lambda size: random.Random(3).sample(range(size), 200))


@pytest.mark.exhaustive
async def test_flip_in_every_byte_of_lists_changes_no_page(folder):
    count = await check_flips(folder, range)
    print(f"{count} flips in lists, 0 silent")


@pytest.mark.slow
async def test_lists_of_another_store_and_of_another_index_are_not_used(
    folder, expected, tmp_path
):
    whole = (folder / LISTS).read_bytes()
    other = tmp_path / "other"
    vault, _ = await create_vault(other, "hoof", CHEAP, bounds=TEST_BOUNDS)
    add(vault, 0, EXAMS)
    vault.rewrite()
    vault.close()
    (await opened(other)).close()
    await tries(folder, (other / LISTS).read_bytes(), expected)
    # Older than the journal: from before it was written anew.
    vault = await opened(folder)
    receive(vault, range(640, 650))
    vault.rewrite()
    vault.close()
    expected = await without_lists(folder)
    assert len(expected["waiting"]) == WAITING - 10
    await tries(folder, whole, expected)


@pytest.mark.slow
async def test_journal_put_back_from_before_is_not_read_with_newer_lists(
    folder, expected
):
    before = folder_bytes(folder)
    vault = await opened(folder)
    receive(vault, range(640, 650))
    vault.rewrite()
    vault.close()
    newer = (folder / LISTS).read_bytes()
    for name, content in before.items():
        (folder / name).write_bytes(content)
    await tries(folder, newer, expected)


async def test_store_of_the_release_before_gets_lists_at_its_first_closing(
    folder, expected
):
    (folder / LISTS).unlink()
    vault = await opened(folder)
    assert not has_lists(vault)
    assert answers(vault) == expected
    vault.close()
    vault = await opened(folder)
    assert has_lists(vault)
    vault.close()


async def test_journal_written_on_by_the_release_before_keeps_the_lists_right(folder):
    # It knows no lists: it leaves them, and writes behind the index or another one.
    (folder / LISTS).rename(folder / "aside")
    vault = await opened(folder)
    add(vault, EXAMS, EXAMS + 20)
    vault.closed.remove("e3")
    vault.close()
    (folder / LISTS).unlink()
    expected = await without_lists(folder)
    (folder / "aside").rename(folder / LISTS)
    vault = await opened(folder)
    assert has_lists(vault)
    assert answers(vault) == expected
    vault.close()


@pytest.mark.slow
async def test_dropped_table_that_begins_again_is_not_read_with_its_old_lists(folder):
    vault = await opened(folder)
    vault.tables.drop_table("handed_over")
    assert len(Exchange(vault).not_handed_over()) == EXAMS
    receive(vault, range(690))
    found = answers(vault)
    assert len(found["waiting"]) == WAITING - 50
    vault.close()
    assert found == await without_lists(folder)


async def test_small_store_has_no_lists(tmp_path):
    vault, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    add(vault, 0, 40)
    vault.rewrite()
    vault.close()
    (await opened(tmp_path / "v")).close()
    assert LISTS not in folder_bytes(tmp_path / "v")


async def test_store_opens_where_no_room_for_lists_can_be_made(folder, expected):
    (folder / LISTS).unlink()
    (folder / LISTS).mkdir()
    vault = await opened(folder)
    assert not has_lists(vault)
    assert answers(vault) == expected
    vault.close()


@pytest.mark.slow
async def test_writing_anew_leaves_no_older_list_behind(folder, monkeypatch):
    vault = await opened(folder)
    before = (folder / LISTS).read_bytes()
    # The lists themselves find no room.
    monkeypatch.setattr(
        "exam_app.store.repositories.listed.write_lists",
        lambda *_: (_ for _ in ()).throw(OSError),
    )
    vault.rewrite()
    assert (folder / LISTS).read_bytes() == b""
    assert before
    expected = answers(vault)
    vault.close()
    monkeypatch.undo()
    vault = await opened(folder)
    assert answers(vault) == expected
    vault.close()


@pytest.mark.slow
async def test_page_that_fails_while_it_is_used_is_made_up_for(folder, expected):
    names = ("closed/by/animal_id", "closed/picked", "animals/texts/0", "closed/by/")
    for name in names:
        vault = await opened(folder)
        vault._storage._lists._places[name][2] = "00" * 16
        assert answers(vault) == expected
        assert not has_lists(vault)
        vault.close()


async def test_animal_renamed_just_before_writing_anew_is_found_by_its_new_name(
    tmp_path,
):
    vault, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    for number in range(3):
        vault.animals.put(animal_of(number))
    assert len(vault.animals.search("demo")) == 3
    vault.animals.put({**animal_of(1), "name": "Demo Fennick"})
    vault.rewrite()
    assert [one.animal_id for one in vault.animals.search("fennick")] == ["a1"]
    vault.close()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
async def test_answers_inside_a_transaction_hold_what_it_has_not_saved(folder, seed):
    rng = random.Random(seed)
    vault = await opened(folder)
    inside = []
    with vault.transaction():
        for turn in range(25):
            rng.choice(CHANGES)(vault, rng.randrange(EXAMS), turn)
            if turn % 8 == 0:
                inside.append(answers(vault)["animal"])
        inside.append(answers(vault))
    assert answers(vault) == inside[-1]
    vault.close()
    assert inside[-1] == await without_lists(folder)
