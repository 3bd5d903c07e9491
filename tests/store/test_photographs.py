"""Photographs in the store: sealed apart, kept once, read back, damaged one by one."""

import errno
import os
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exam_app.record.errors import NotAPhotographError
from exam_app.store.engine import picture_slots
from exam_app.store.engine.picture_files import NoPictures, PictureFolder
from exam_app.store.engine.picture_slots import HEAD_LENGTH, UNIT, PictureSlots
from exam_app.store.engine.sealed_pictures import PictureKeys
from exam_app.store.errors import (
    NoRoomForPhotographError,
    PhotographDamagedError,
    PhotographMissingError,
    VaultTooNewError,
    VaultUnreachableError,
)
from exam_app.store.repositories.photographs import ROOM_FOR_ANSWERS, PhotographRow
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault
from tests.pictures import HEIGHT, WIDTH, hash_of, picture
from tests.samples import examples
from tests.store_disks import CHEAP, TEST_BOUNDS, MemoryFile

EXAM, OTHER = "e1" * 16, "e2" * 16
KEYS = PictureKeys(bytes(32), bytes(16))


@pytest.fixture
async def vault(tmp_path):
    opened, _ = await create_vault(tmp_path / "v", "hoof", CHEAP, bounds=TEST_BOUNDS)
    yield opened
    opened.close()


def files(tmp_path):
    return sorted((tmp_path / "v" / "photographs").iterdir())


async def test_a_picture_is_kept_and_given_back_after_reopening(vault, tmp_path):
    content = picture(1, 50_000)
    row = vault.photographs.add(EXAM, content)
    assert row == PhotographRow(hash_of(content), (EXAM,), len(content), WIDTH, HEIGHT)
    assert vault.photographs.get(row.sha256) == content
    vault.close()
    again = await open_vault(tmp_path / "v", "hoof", bounds=TEST_BOUNDS)
    assert again.photographs.get(row.sha256) == content
    assert again.photographs.rows() == [row]
    assert again.photographs.damaged() == ()
    again.close()


async def test_a_picture_is_no_part_of_the_journal(vault):
    before = vault.size()
    vault.photographs.add(EXAM, picture(1, 200_000))
    vault.drafts.put(EXAM, {"animal_id": "a1"})
    assert vault.size() - before < 2_000


async def test_neither_name_nor_content_of_a_file_tells_of_the_picture(vault, tmp_path):
    content = picture(1, 5_000)
    vault.photographs.add(EXAM, content)
    (file,) = files(tmp_path)
    sealed = file.read_bytes()
    assert hash_of(content)[:8] not in file.name
    assert content[:60] not in sealed
    assert b"JFIF" not in sealed
    if os.name == "posix":
        assert file.stat().st_mode & 0o077 == 0


async def test_the_same_picture_is_kept_once(vault, tmp_path):
    for exam_id in (EXAM, OTHER, EXAM):
        row = vault.photographs.add(exam_id, picture(1))
    assert row.exam_ids == (EXAM, OTHER)
    assert len(files(tmp_path)) == 1
    assert vault.photographs.space().count == 1


async def test_what_is_no_prepared_picture_is_not_kept(vault, tmp_path):
    with pytest.raises(NotAPhotographError):
        vault.photographs.add(EXAM, picture(1) + b"place")
    assert not vault.photographs.rows()
    assert not (tmp_path / "v" / "photographs").exists()


DAMAGES = {
    "missing": lambda path, _: path.unlink(),
    "empty": lambda path, _: path.write_bytes(b""),
    "cut": lambda path, _: path.write_bytes(path.read_bytes()[:-1]),
    "longer": lambda path, _: path.write_bytes(path.read_bytes() + b"x"),
    "swapped": lambda path, other: path.write_bytes(other.read_bytes()),
    "zeros": lambda path, _: path.write_bytes(bytes(path.stat().st_size)),
}


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
async def test_one_damaged_file_is_told_and_costs_nothing_else(vault, tmp_path, damage):
    first = vault.photographs.add(EXAM, picture(1))
    (path,) = files(tmp_path)
    second = vault.photographs.add(EXAM, picture(2))
    (other,) = set(files(tmp_path)) - {path}
    damage(path, other)
    with pytest.raises(PhotographMissingError):
        vault.photographs.get(first.sha256)
    assert vault.photographs.get(second.sha256) == picture(2)
    assert vault.photographs.damaged() == (first.sha256,)
    # It comes again, from where it was taken.
    vault.photographs.add(EXAM, picture(1))
    assert vault.photographs.get(first.sha256) == picture(1)
    assert vault.photographs.damaged() == ()


def test_a_sealed_picture_flipped_anywhere_is_refused():
    content = picture(1)
    sealed = KEYS.seal(hash_of(content), content)
    for at in range(len(sealed)):
        changed = bytearray(sealed)
        changed[at] ^= 1
        with pytest.raises((PhotographDamagedError, VaultTooNewError)):
            KEYS.open(hash_of(content), bytes(changed))
    for length in range(len(sealed)):
        with pytest.raises(PhotographDamagedError):
            KEYS.open(hash_of(content), sealed[:length])


def test_a_sealed_picture_opens_under_its_own_hash_and_key_alone():
    one, two = picture(1), picture(2)
    sealed = KEYS.seal(hash_of(one), one)
    assert KEYS.open(hash_of(one), sealed) == one
    with pytest.raises(PhotographDamagedError):
        KEYS.open(hash_of(two), sealed)
    with pytest.raises(PhotographDamagedError):
        KEYS.open(hash_of(one), KEYS.seal(hash_of(one), two))
    for keys in (PictureKeys(b"k" * 32, bytes(16)), PictureKeys(bytes(32), b"v" * 16)):
        assert keys.name(hash_of(one)) != KEYS.name(hash_of(one))
        with pytest.raises(PhotographDamagedError):
            keys.open(hash_of(one), sealed)


async def test_a_nearly_full_device_refuses_a_picture_and_never_an_answer(
    vault, monkeypatch
):
    content = picture(1, 5_000)
    monkeypatch.setattr(
        PictureFolder, "left", lambda _: ROOM_FOR_ANSWERS + len(content) - 1
    )
    with pytest.raises(NoRoomForPhotographError):
        vault.photographs.add(EXAM, content)
    assert not vault.photographs.rows()
    vault.drafts.put(EXAM, {"animal_id": "a1"})
    assert vault.drafts.get(EXAM) == {"animal_id": "a1"}
    monkeypatch.setattr(PictureFolder, "left", lambda _: ROOM_FOR_ANSWERS + 5_100)
    assert vault.photographs.space().left == 5_100
    vault.photographs.add(EXAM, content)


@pytest.mark.parametrize(
    ("code", "refusal"),
    [
        (errno.ENOSPC, NoRoomForPhotographError),
        (errno.EDQUOT, NoRoomForPhotographError),
        (errno.EIO, VaultUnreachableError),
    ],
)
async def test_a_disk_that_fails_under_a_picture_goes_on_saving_answers(
    vault, monkeypatch, code, refusal, tmp_path
):
    def full(*_):
        raise OSError(code, "the test's disk")

    monkeypatch.setattr("exam_app.store.engine.picture_files.LocalFile.write_at", full)
    with pytest.raises(refusal):
        vault.photographs.add(EXAM, picture(1))
    monkeypatch.undo()
    assert files(tmp_path) == []
    vault.drafts.put(EXAM, {"animal_id": "a1"})
    assert vault.disk_report is None


async def test_a_disk_that_gives_back_other_bytes_is_noticed_at_once(
    vault, monkeypatch
):
    monkeypatch.setattr(PictureFolder, "read", lambda _, __: b"other bytes")
    with pytest.raises(VaultUnreachableError):
        vault.photographs.add(EXAM, picture(1))
    assert not vault.photographs.rows()


async def test_pictures_that_a_closed_exam_does_not_name_are_let_go(vault, tmp_path):
    kept, gone, shared = (vault.photographs.add(EXAM, picture(n)) for n in (1, 2, 3))
    vault.photographs.add(OTHER, picture(3))
    vault.photographs.settle(EXAM, {kept.sha256})
    assert vault.photographs.has(kept.sha256)
    assert not vault.photographs.has(gone.sha256)
    assert vault.photographs.row(shared.sha256).exam_ids == (OTHER,)
    assert len(files(tmp_path)) == 2


async def test_rows_alone_are_let_go_of_in_a_save_that_fails(vault, tmp_path):
    row = vault.photographs.add(EXAM, picture(1))

    def cut():
        with vault.transaction():
            vault.photographs.settle(EXAM, (), rows_only=True)
            assert not vault.photographs.rows()
            raise VaultUnreachableError

    with pytest.raises(VaultUnreachableError):
        cut()
    assert vault.photographs.rows() == [row]
    assert vault.photographs.get(row.sha256) == picture(1)
    vault.photographs.settle(EXAM, (), rows_only=True)
    assert len(files(tmp_path)) == 1
    assert vault.photographs.clear_strays() == 1


async def test_many_rows_are_compared_with_the_place_by_one_look(vault, monkeypatch):
    kept, gone = (vault.photographs.add(EXAM, picture(n)) for n in (1, 2))
    for row in (kept, gone):
        vault.photographs.mark_sealed(row.sha256, row.sha256)
    vault.photographs._files.remove(vault.photographs._keys().name(gone.sha256))
    monkeypatch.delattr(PictureFolder, "holds")
    rows = vault.photographs.rows()
    assert [row.sha256 for row in vault.photographs.here(rows)] == [kept.sha256]
    assert vault.photographs.came_in() == {kept.sha256}


async def test_a_picture_is_known_by_every_form_it_came_in(vault):
    key = vault.photographs.add(EXAM, picture(1)).sha256
    for number in (1, 2, 1, *range(1, 9)):
        vault.photographs.mark_sealed(key, f"{number:064x}")
    assert vault.photographs.came_in() == {f"{number:064x}" for number in range(1, 9)}
    vault.photographs.mark_sealed(key, "9" * 64)
    assert vault.photographs.row(key).sealed_hashes[0] == f"{2:064x}"
    assert "9" * 64 in vault.photographs.came_in()


async def test_a_place_that_cannot_be_looked_at_is_said(vault, monkeypatch):
    def refuse(_):
        raise PermissionError(errno.EACCES, "the test's disk")

    monkeypatch.setattr(PictureFolder, "names", refuse)
    with pytest.raises(VaultUnreachableError):
        vault.photographs.came_in()


async def test_what_was_cut_off_leaves_no_file_behind(vault, tmp_path):
    row = vault.photographs.add(EXAM, picture(1))
    folder = tmp_path / "v" / "photographs"
    (folder / ("0" * 32)).write_bytes(b"written, and its row never was")
    (folder / "remarks.txt").write_text("not ours")
    assert vault.photographs.clear_strays() == 1
    assert vault.photographs.get(row.sha256) == picture(1)
    assert (folder / "remarks.txt").exists()


async def test_a_record_names_pictures_before_they_come(vault):
    content = picture(4)
    key = hash_of(content)
    vault.photographs.expect(EXAM, [key, key], "d" * 32)
    assert vault.photographs.missing([key, key]) == (key,)
    assert vault.photographs.space().count == 0
    row = vault.photographs.add(EXAM, content, "d" * 32)
    assert (row.device_id, row.exam_ids) == ("d" * 32, (EXAM,))
    assert vault.photographs.missing([key]) == ()
    vault.photographs.mark_received([key], 7)
    assert vault.photographs.row(key) == replace(row, received_ms=7)


def test_a_store_without_a_place_for_pictures_says_so():
    none = NoPictures()
    assert (none.names(), none.read("0" * 32), none.left()) == (set(), None, 0)
    none.remove("0" * 32)
    with pytest.raises(OSError, match="no place"):
        none.write("0" * 32, b"x")


NAMES = [f"{n:032x}" for n in range(1, 5)]
STEPS = st.lists(
    st.tuples(st.sampled_from(NAMES), st.integers(-1, 3 * UNIT)), max_size=12
)


@settings(max_examples=examples(200))
@given(STEPS)
def test_slots_hold_what_a_folder_of_files_would(steps):
    file, expected = MemoryFile(), {}
    slots = PictureSlots(file)
    for name, length in steps:
        if length < 0:
            slots.remove(name)
            expected.pop(name, None)
        else:
            content = bytes([length % 251]) * length
            slots.write(name, content)
            expected[name] = content
        for seen in (slots, PictureSlots(file)):
            assert seen.names() == set(expected)
            assert {one: seen.read(one) for one in expected} == expected
    for name in expected:
        slots.remove(name)
    assert file.size() == 0


@settings(max_examples=examples(100))
@given(STEPS, st.integers(0, 10), st.data())
def test_slots_cut_off_anywhere_keep_what_was_kept_before(steps, last, data):
    file = MemoryFile()
    slots, expected = PictureSlots(file), {}
    for name, length in [s for s in steps if s[1] >= 0][:last]:
        expected[name] = bytes([7]) * length
        slots.write(name, expected[name])
    before, begun = bytes(file.content), len(file.log)
    new = NAMES[0] if NAMES[0] not in expected else "f" * 32
    content = b"new" * data.draw(st.sampled_from((1_000, 100_000)))
    slots.write(new, content)
    done = data.draw(st.integers(0, len(file.log) - begun - 1))
    cut = MemoryFile(before)
    for step in file.log[begun : begun + done]:
        if step[0] == "write":
            cut.write_at(step[1], step[2])
        elif step[0] == "truncate":
            cut.truncate(step[1])
    found = PictureSlots(cut)
    assert {one: found.read(one) for one in expected} == expected
    assert found.read(new) in (None, content)
    found.write("e" * 32, bytes(7 * UNIT))
    again = PictureSlots(cut)
    assert {one: again.read(one) for one in expected} == expected
    assert again.read("e" * 32) == bytes(7 * UNIT)


def test_a_larger_picture_goes_behind_a_slot_that_was_cut_off_while_it_was_made():
    file = MemoryFile()
    slots = PictureSlots(file)
    slots.write(NAMES[0], b"kept")
    begun = len(file.log)
    slots.write(NAMES[1], bytes(5 * UNIT - HEAD_LENGTH))
    head, content = (s for s in file.log[begun:][:2] if s[0] == "write")
    # The head of five units was written, and two units of what it should hold.
    cut = MemoryFile(file.content[:UNIT])
    cut.write_at(*head[1:])
    cut.write_at(content[1], content[2][: 2 * UNIT])
    larger = b"later" * (7 * UNIT // 5 - HEAD_LENGTH)
    PictureSlots(cut).write(NAMES[2], larger)
    found = PictureSlots(cut)
    assert found.names() == {NAMES[0], NAMES[2]}
    assert found.read(NAMES[2]) == larger


@settings(max_examples=examples(200))
@given(st.binary(max_size=200), st.integers(0, 3 * UNIT))
def test_slots_of_any_bytes_are_read_without_harm(noise, at):
    file = MemoryFile()
    slots = PictureSlots(file)
    slots.write(NAMES[0], b"whole" * 100)
    slots.write(NAMES[1], b"other" * 100)
    file.write_at(at, noise)
    found = PictureSlots(file)
    assert found.names() <= {*NAMES}
    for name in found.names():
        found.read(name)
    found.write(NAMES[2], b"later")
    assert PictureSlots(file).read(NAMES[2]) == b"later"


def test_a_damaged_head_of_a_slot_costs_that_picture_alone():
    file = MemoryFile()
    slots = PictureSlots(file)
    for name in NAMES:
        slots.write(name, bytes(UNIT))
    file.write_at(2 * UNIT, b"\0\1\2")
    found = PictureSlots(file)
    assert found.names() == {NAMES[0], NAMES[2], NAMES[3]}


def test_slots_refuse_a_piece_beyond_what_is_read():
    too_long = bytes(picture_slots.LONGEST_PIECE + 1)
    with pytest.raises(OSError, match="longer"):
        PictureSlots(MemoryFile()).write(NAMES[0], too_long)


class FullFile(MemoryFile):
    """Takes so many bytes and no more."""

    def write_at(self, offset, content):
        if offset + len(content) > 2 * UNIT:
            raise OSError(errno.ENOSPC, "full")
        super().write_at(offset, content)


def test_a_full_place_keeps_the_pictures_it_has():
    file = FullFile()
    slots = PictureSlots(file)
    slots.known_left = 100_000
    slots.write(NAMES[0], b"kept")
    assert slots.left() == 100_000 - 4
    with pytest.raises(OSError, match="full"):
        slots.write(NAMES[1], bytes(2 * UNIT))
    for seen in (slots, PictureSlots(file)):
        assert seen.names() == {NAMES[0]}
        assert seen.read(NAMES[0]) == b"kept"
