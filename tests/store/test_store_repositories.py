"""What the screens rely on: documents, lists, PINs and closing in one save."""

import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from exam_app.domain.exam.people import Person, Role
from exam_app.store.errors import (
    ClosedRecordChangedError,
    PinLockedError,
    UnstorableValueError,
    VaultClosedError,
    VaultError,
)
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault
from tests.store_disks import CHEAP, TEST_BOUNDS, FaultyDisk, folder_bytes


@pytest.fixture
async def vault(tmp_path):
    opened, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    yield opened
    opened.close()


async def reopened(vault, tmp_path):
    vault.close()
    return await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)


async def test_everything_put_is_there_after_reopening(vault, tmp_path):
    vault.animals.put({"animal_id": "a1", "name": "Demo Bella", "weight": "12.4"})
    vault.people.put(Person("p1", "Demo Vet", Role.VETERINARIAN))
    vault.drafts.put("e1", {"animal_id": "a1", "changed": 5, "regions": {"eye": [1]}})
    vault.closed.put(
        ClosedExam(exam_id="e0", animal_id="a1", title="first"), b"\x00\xffsigned"
    )
    vault.notes.put("n1", "e0", b"note one")
    vault.notes.put("n2", "e0", b"note two")
    vault.settings.put("clinic", {"name": "Demo clinic", "phones": ["1", "2"]})
    vault.settings.put("signing seed", bytes(range(32)))
    vault.protocols.put("ab" * 32, b'id = "dog"\r\n')
    vault.owners.put("e0", b"s" * 32, {"name": "Demo Owner"})
    vault = await reopened(vault, tmp_path)
    assert vault.damage_report is None
    assert vault.animals.get("a1")["weight"] == "12.4"
    assert [person.name for person in vault.people.all()] == ["Demo Vet"]
    assert vault.drafts.get("e1")["regions"] == {"eye": [1]}
    assert vault.closed.get("e0") == b"\x00\xffsigned"
    assert vault.notes.for_exam("e0") == [b"note one", b"note two"]
    assert vault.settings.get("clinic")["phones"] == ["1", "2"]
    assert vault.settings.get("signing seed") == bytes(range(32))
    assert vault.protocols.get("ab" * 32) == b'id = "dog"\r\n'
    assert vault.owners.get("e0") == (b"s" * 32, {"name": "Demo Owner"})
    vault.close()


async def test_what_is_not_there_is_none_and_lists_are_empty(vault):
    for missing in (
        vault.animals.get("x"),
        vault.people.get("x"),
        vault.drafts.get("x"),
        vault.closed.get("x"),
        vault.protocols.get("x"),
        vault.owners.get("x"),
        vault.settings.get("x"),
    ):
        assert missing is None
    assert vault.settings.get("x", 7) == 7
    assert vault.animals.all() == vault.drafts.open() == vault.closed.latest(5) == []
    assert vault.notes.for_exam("x") == vault.closed.for_animal("x") == []
    vault.drafts.remove("x")


async def test_changing_what_was_given_changes_nothing_kept(vault):
    animal = {"animal_id": "a1", "names": ["Demo"]}
    vault.animals.put(animal)
    animal["names"].append("changed outside")
    given = vault.animals.get("a1")
    given["names"].append("changed too")
    assert vault.animals.get("a1") == {"animal_id": "a1", "names": ["Demo"]}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("bella", {"a1"}),
        ("BELLA miller", {"a1"}),
        ("978000012345678", {"a1"}),
        ("978 000 012", {"a1"}),
        ("tag 17", {"a2"}),
        ("müller", {"a2"}),
        ("demo", {"a1", "a2"}),
        ("", {"a1", "a2"}),
        ("bella 17", set()),
        ("secret", set()),
    ],
)
async def test_animals_are_found_by_name_tag_chip_and_owner(vault, text, found):
    vault.animals.put(
        {
            "animal_id": "a1",
            "name": "Demo Bella",
            "chip": "978 000 012 345 678",
            "owner": {"name": "Ann Miller"},
            "remark": "secret",
        }
    )
    vault.animals.put(
        {
            "animal_id": "a2",
            "name": "Demo Otto",
            "tag": "Tag 17",
            "owner_name": "MÜLLER",
        }
    )
    assert {animal.animal_id for animal in vault.animals.search(text)} == found


async def test_open_drafts_show_the_one_saved_last_first(vault):
    first = OpenExam("e1", "a1", started="2026-01-02 10:00")
    vault.drafts.put("e1", {"turn": 1}, first)
    otto = OpenExam("e2", name="Demo Otto", examined=3, total=40)
    vault.drafts.put("e2", {}, otto)
    assert [row.exam_id for row in vault.drafts.open()] == ["e2", "e1"]
    assert vault.drafts.open()[0] == otto
    vault.drafts.put("e1", {"turn": 2}, first)
    assert [row.exam_id for row in vault.drafts.open()] == ["e1", "e2"]
    assert vault.drafts.open()[0].started == "2026-01-02 10:00"
    vault.drafts.remove("e1")
    assert [row.exam_id for row in vault.drafts.open()] == ["e2"]
    assert vault.drafts.get("e1") is None


async def test_latest_exams_come_newest_first_also_after_reopening(vault, tmp_path):
    for number in range(5):
        row = ClosedExam(exam_id=f"e{number}", animal_id=f"a{number % 2}")
        vault.closed.put(row, b"%d" % number)
    vault = await reopened(vault, tmp_path)
    assert [row.exam_id for row in vault.closed.latest(3)] == ["e4", "e3", "e2"]
    assert [row.exam_id for row in vault.closed.latest(99)][-1] == "e0"
    assert vault.closed.latest(0) == []
    of_one = [row.exam_id for row in vault.closed.for_animal("a0")]
    assert of_one == ["e4", "e2", "e0"]
    vault.close()


async def test_closed_bytes_are_never_replaced(vault):
    vault.closed.put(ClosedExam(exam_id="e1", animal_id="a1"), b"signed")
    vault.closed.put(ClosedExam(exam_id="e1", animal_id="a1"), b"signed")
    vault.notes.put("n1", "e1", b"note")
    vault.protocols.put("aa", b"one")
    for refused in (
        lambda: vault.closed.put(ClosedExam(exam_id="e1", animal_id="a2"), b"other"),
        lambda: vault.notes.put("n1", "e1", b"other"),
        lambda: vault.protocols.put("aa", b"two"),
    ):
        with pytest.raises(ClosedRecordChangedError):
            refused()
    assert vault.closed.get("e1") == b"signed"
    assert vault.closed.latest(1)[0].animal_id == "a1"


async def test_closing_an_exam_is_one_save(tmp_path):
    disk = FaultyDisk()
    vault, _ = await create_vault(
        tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    vault.drafts.put("e1", {"animal_id": "a1"})
    disk.log.clear()
    vault.close_exam(
        ClosedExam(exam_id="e1", animal_id="a1"), b"signed", (b"s" * 32, {"name": "D"})
    )
    assert [step[0] for _, step in disk.log] == ["write", "flush"]
    assert vault.drafts.open() == []
    assert vault.closed.get("e1") == b"signed"
    assert vault.owners.get("e1") == (b"s" * 32, {"name": "D"})
    vault.close()


async def test_refused_closing_leaves_the_draft_and_no_owner_data(vault):
    vault.closed.put(ClosedExam(exam_id="e1", animal_id="a1"), b"signed")
    vault.drafts.put("e1", {"animal_id": "a1"})
    with pytest.raises(ClosedRecordChangedError):
        vault.close_exam(
            ClosedExam(exam_id="e1", animal_id="a1"), b"other", (b"s", {"name": "D"})
        )
    with pytest.raises(UnstorableValueError):
        vault.close_exam(
            ClosedExam(exam_id="e2", animal_id="a1"), b"signed", (b"s", {"weight": 1.5})
        )
    assert vault.drafts.get("e1") == {"animal_id": "a1"}
    assert vault.owners.get("e1") is None
    assert vault.closed.get("e2") is None


async def test_exception_inside_a_transaction_undoes_all_of_it(vault):
    def fill_in():
        with vault.transaction():
            vault.settings.put("theme", "dark")
            with vault.transaction():
                vault.settings.put("size", 2)
            assert vault.settings.get("theme") == "dark"
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fill_in()
    assert vault.settings.get("theme") is None
    assert vault.settings.get("size") is None


async def test_reader_in_another_thread_sees_only_what_is_saved(vault):
    vault.settings.put("theme", "light")
    with vault.transaction():
        vault.settings.put("theme", "dark")
        with ThreadPoolExecutor() as pool:
            assert pool.submit(vault.settings.get, "theme").result() == "light"
        assert vault.settings.get("theme") == "dark"
    with ThreadPoolExecutor() as pool:
        assert pool.submit(vault.settings.get, "theme").result() == "dark"


class Slow:
    """A raw file that lets another thread in after every seek."""

    def __init__(self, vault, number):
        self.raw = vault._files.journals[number]._raw

    def seek(self, offset):
        self.raw.seek(offset)
        time.sleep(0.0002)

    def __getattr__(self, name):
        return getattr(self.raw, name)


async def test_readers_beside_the_writer_disturb_neither(vault, tmp_path, monkeypatch):
    for number in range(20):
        vault.drafts.put(f"e{number}", {"number": number, "text": "x" * 3000})
    monkeypatch.setattr(vault._files.journals[0], "_raw", Slow(vault, 0))
    monkeypatch.setattr(vault._files.journals[1], "_raw", Slow(vault, 1))

    def read_on(seed):
        for turn in range(150):
            number = (seed + turn * 7) % 20
            assert vault.drafts.get(f"e{number}")["number"] == number
            assert len(vault.drafts.open()) == 20

    with ThreadPoolExecutor() as pool:
        readers = [pool.submit(read_on, seed) for seed in range(3)]
        turn = 0
        while not all(reader.done() for reader in readers):
            turn += 1
            number = turn % 20
            text = f"{turn} " * 700
            vault.drafts.put(f"e{number}", {"number": number, "text": text})
            if turn % 10 == 0:
                vault.rewrite()
        for reader in readers:
            reader.result()
    assert vault.audit().is_sound
    expected = [vault.drafts.get(row.exam_id) for row in vault.drafts.open()]
    vault = await reopened(vault, tmp_path)
    assert vault.damage_report is None
    found = [vault.drafts.get(row.exam_id) for row in vault.drafts.open()]
    assert found == expected
    vault.close()


async def test_transactions_of_two_vaults_do_not_mix(vault, tmp_path):
    other, _ = await create_vault(tmp_path / "w", "hoof", CHEAP, bounds=TEST_BOUNDS)
    with vault.transaction():
        vault.settings.put("theme", "dark")
        with other.transaction():
            other.settings.put("theme", "light")
        assert vault.settings.get("theme") == "dark"
    assert other.settings.get("theme") == "light"
    assert vault.settings.get("theme") == "dark"
    other.close()


async def test_saving_what_is_saved_already_writes_nothing(tmp_path):
    disk = FaultyDisk()
    vault, _ = await create_vault(
        tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS, opener=disk.open
    )
    vault.settings.put("theme", "dark")
    disk.log.clear()
    vault.settings.put("theme", "dark")
    with vault.transaction():
        vault.settings.get("theme")
    assert disk.log == []
    vault.close()


async def test_erased_owner_data_is_in_no_file_any_more(vault, tmp_path):
    vault.owners.put("e1", b"s" * 32, {"name": "Demo Owner"})
    place = vault._storage.entry("owner_blocks", "e1")[1]
    sealed, _ = vault._storage.journal().read_sealed(place)
    assert any(sealed in content for content in folder_bytes(tmp_path / "v").values())
    vault.owners.erase("e1")
    assert vault.owners.get("e1") is None
    contents = folder_bytes(tmp_path / "v").values()
    assert not any(sealed in content for content in contents)
    with vault.transaction(), pytest.raises(RuntimeError):
        vault.owners.erase("e1")


async def test_revision_stands_beside_what_it_revises(vault, tmp_path):
    first = ClosedExam(exam_id="e1", animal_id="a1", record_hash="h1")
    vault.closed.put(first, b"first")
    vault.closed.put(
        ClosedExam(exam_id="e2", animal_id="a1", record_hash="h9"), b"other exam"
    )
    second = replace(first, record_hash="h2", revision=2, parent_hash="h1")
    for _ in range(2):
        vault.closed.put(second, b"second")
    vault = await reopened(vault, tmp_path)
    assert vault.closed.get("e1") == b"second"
    assert vault.closed.get("e1", "h1") == b"first"
    assert vault.closed.get("e1", "h3") is None
    assert [row.record_hash for row in vault.closed.revisions("e1")] == ["h1", "h2"]
    assert [row.record_hash for row in vault.closed.tips("e1")] == ["h2"]
    assert [row.record_hash for row in vault.closed.latest(9)] == ["h2", "h9"]
    assert [row.record_hash for row in vault.closed.for_animal("a1")] == ["h2", "h9"]
    with pytest.raises(ClosedRecordChangedError):
        vault.closed.put(first, b"second")
    vault.close()


async def test_two_revisions_of_one_record_are_both_kept_as_a_fork(vault):
    # The first of the two comes before the record that it revises.
    vault.closed.put(
        ClosedExam(exam_id="e1", record_hash="h2", revision=2, parent_hash="h1"),
        b"left",
    )
    vault.closed.put(ClosedExam(exam_id="e1", record_hash="h1"), b"first")
    vault.closed.put(
        ClosedExam(exam_id="e1", record_hash="h3", revision=2, parent_hash="h1"),
        b"right",
    )
    assert [row.record_hash for row in vault.closed.tips("e1")] == ["h2", "h3"]
    assert vault.closed.get("e1") == b"left"
    assert vault.closed.get("e1", "h3") == b"right"
    assert [row.record_hash for row in vault.closed.latest(9)] == ["h3", "h2"]
    vault.closed.put(
        ClosedExam(exam_id="e1", record_hash="h4", revision=3, parent_hash="h3"),
        b"joined",
    )
    assert vault.closed.get("e1") == b"joined"
    assert [row.record_hash for row in vault.closed.tips("e1")] == ["h2", "h4"]


async def test_search_finds_text_as_typed_and_nothing_of_the_wrapping(vault):
    names = ['Demo "Bella"', "Demo back\\slash", "Demo n\tb", "犬 Demo", "find"]
    for number, name in enumerate(names):
        vault.animals.put({"animal_id": f"a{number}", "name": name})

    def found(text):
        return [animal.animal_id for animal in vault.animals.search(text)]

    assert found('"bella"') == ["a0"]
    assert found("back\\slash") == ["a1"]
    assert found("犬") == ["a3"]
    assert found("find") == ["a4"]
    assert found("{") == found("\ud800") == found("u0009") == []
    assert found("demo") == ["a0", "a1", "a2", "a3"]
    assert [a.animal_id for a in vault.animals.search("demo", 2)] == ["a0", "a1"]
    vault.animals.put({"animal_id": "a1", "name": "Other"})
    assert found("demo") == ["a0", "a2", "a3"]
    with vault.transaction():
        vault.animals.put({"animal_id": "a5", "name": "Demo new"})
        assert found("demo new") == ["a5"]
    assert found("demo new") == ["a5"]


@pytest.mark.parametrize(
    "value",
    [1.5, b"bytes", {"inner": [0.0]}, {1: "x"}, {1, 2}, 2**63, "\ud800", object()],
)
async def test_values_that_read_differently_elsewhere_are_refused(vault, value):
    vault.animals.put({"animal_id": "a1", "name": "Demo"})
    with pytest.raises(UnstorableValueError):
        vault.animals.put({"animal_id": "a1", "name": value})
    assert vault.animals.get("a1")["name"] == "Demo"


async def test_documents_nested_too_deep_are_refused(vault):
    deep = []
    for _ in range(100):
        deep = [deep]
    with pytest.raises(UnstorableValueError):
        vault.settings.put("deep", deep)


@pytest.mark.parametrize("odd", ["", "tab\tbed", "line\nbreak", "ß", 7, None])
async def test_documents_need_a_plain_id(vault, odd):
    with pytest.raises(UnstorableValueError):
        vault.animals.put({"animal_id": odd})
    assert vault.animals.all() == []


async def test_text_with_line_breaks_of_every_kind_survives(vault, tmp_path):
    text = "a\nb\rc\u2028d\u2029e\x85f\x0bg\x0ch\x1ci\x00j \t\"'\\ ß 犬 🐴"
    vault.settings.put("text", text)
    vault = await reopened(vault, tmp_path)
    assert vault.settings.get("text") == text
    vault.close()


async def test_fifth_wrong_pin_locks_and_the_passphrase_unlocks(vault, tmp_path):
    vault.people.put(Person("p1", "Demo Vet", Role.VETERINARIAN))
    assert not vault.people.has_pin("p1")
    assert not vault.people.check_pin("p1", "1234")
    vault.people.set_pin("p1", "1234")
    vault.people.set_pin("p2", "1234")
    assert vault.people.has_pin("p1")
    assert vault.people.check_pin("p1", "1234")
    for _ in range(4):
        assert not vault.people.check_pin("p1", "0000")
    with pytest.raises(PinLockedError):
        vault.people.check_pin("p1", "0000")
    with pytest.raises(PinLockedError):
        vault.people.check_pin("p1", "1234")
    assert vault.people.check_pin("p2", "1234")
    await vault.confirm_passphrase("hoof")
    assert vault.people.check_pin("p1", "1234")


async def test_right_pin_forgets_the_wrong_ones_before_it(vault):
    vault.people.set_pin("p1", "1234")
    for _ in range(3):
        for _ in range(4):
            assert not vault.people.check_pin("p1", "0000")
        assert vault.people.check_pin("p1", "1234")


async def test_opening_with_the_passphrase_unlocks_pins(vault, tmp_path):
    vault.people.set_pin("p1", "1234")
    for _ in range(4):
        vault.people.check_pin("p1", "0000")
    with pytest.raises(PinLockedError):
        vault.people.check_pin("p1", "0000")
    vault = await reopened(vault, tmp_path)
    assert vault.people.check_pin("p1", "1234")
    vault.close()


async def test_same_pin_of_two_people_is_kept_differently(vault):
    vault.people.set_pin("p1", "1234")
    vault.people.set_pin("p2", "1234")
    first, second = (row for _, row in vault.people._pins.rows())
    assert first["hash"] != second["hash"]
    assert "1234" not in str(first)


async def test_closed_vault_refuses_reads_and_writes(vault):
    vault.settings.put("theme", "dark")
    vault.close()
    vault.close()
    for refused in (
        lambda: vault.settings.get("theme"),
        lambda: vault.settings.put("theme", "light"),
        vault.drafts.open,
    ):
        with pytest.raises(VaultClosedError):
            refused()
    with pytest.raises(VaultClosedError):
        await vault.change_passphrase("hoof", "new")


def test_every_refusal_of_the_vault_carries_advice_and_no_swallowed_base():
    pending = [VaultError]
    while pending:
        error = pending.pop()
        pending += error.__subclasses__()
        assert "advice" in vars(error)
        assert error.advice.count(".") >= 2
        assert not issubclass(error, KeyError | TypeError)


async def test_notes_are_counted_by_exam_whatever_its_id_looks_like(vault, tmp_path):
    ids = ["e1", 'e"2', "e\\3", "e:4", "e1", "e{5}"]
    for number, exam_id in enumerate(ids):
        vault.notes.put(f"n{number}", exam_id, b"note %d" % number)
    expected = {"e1": 2, 'e"2': 1, "e\\3": 1, "e:4": 1, "e{5}": 1}
    assert list(vault.notes.counts().items()) == list(expected.items())
    vault.notes.counts().clear()
    with vault.transaction():
        vault.notes.put("n9", "e9", b"inside")
        assert vault.notes.counts() == {**expected, "e9": 1}
    vault.notes.remove("e1")
    del expected["e1"]
    vault = await reopened(vault, tmp_path)
    assert vault.notes.counts() == {**expected, "e9": 1}
    vault.close()
