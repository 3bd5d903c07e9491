"""Folder sync: what sticks, network folders and syncing tools do to files."""

import errno
import itertools
import os
import re
import socket
from hashlib import sha256
from pathlib import Path

import pytest

from exam_app.domain.moments import Moment
from sync.errors import FolderError
from sync.transport import folder_reading
from sync.transport.folder import Ending, FolderWriter, clinic_folder, device_folder
from sync.transport.folder_reading import (
    OVERDUE_MS,
    TRY_AGAIN_MS,
    FolderReader,
    WaitingReason,
)
from tests.folder_faults import play_trial

NOW = Moment(1_795_600_000_000, 60)
DEVICE, CLINIC = "0a" * 16, "c1" * 16
POSIX = pytest.mark.skipif(os.name != "posix", reason="uses POSIX files")


def ready_of(reader, known=()):
    return [found.content for found in reader.look(known, NOW).ready]


def reasons_of(reader, known=()):
    return [waiting.reason for waiting in reader.look(known, NOW).waiting]


def test_what_a_device_puts_is_what_the_clinic_finds(tmp_path):
    name = FolderWriter(device_folder(tmp_path, DEVICE)).put(b"sealed", Ending.BUNDLE)
    assert name == sha256(b"sealed").hexdigest() + ".exam-bundle"
    assert [path.name for path in (tmp_path / f"device-{DEVICE}").iterdir()] == [name]
    (found,) = FolderReader(tmp_path).look((), NOW).ready
    assert found.content == b"sealed"
    assert found.sha256 == sha256(b"sealed").hexdigest()
    assert found.name == f"device-{DEVICE}/{name}"
    assert found.name_fits


def test_a_device_finds_what_its_clinic_sends_and_nothing_of_others(tmp_path):
    mine = clinic_folder(tmp_path, CLINIC, DEVICE)
    reader = FolderReader(tmp_path, within=f"clinic-{CLINIC}/for-{DEVICE}")
    assert ready_of(reader) == []
    FolderWriter(mine).put(b"day", Ending.DAY_PACK)
    FolderWriter(clinic_folder(tmp_path, CLINIC, "0b")).put(b"no", Ending.RECEIPT)
    FolderWriter(device_folder(tmp_path, "0b")).put(b"other", Ending.BUNDLE)
    assert ready_of(reader) == [b"day"]


def test_the_clinic_does_not_read_what_it_sent_itself(tmp_path):
    FolderWriter(clinic_folder(tmp_path, CLINIC, DEVICE)).put(b"d", Ending.DAY_PACK)
    FolderWriter(device_folder(tmp_path, DEVICE)).put(b"sealed", Ending.BUNDLE)
    assert ready_of(FolderReader(tmp_path, skipped=f"clinic-{CLINIC}")) == [b"sealed"]


@pytest.mark.parametrize("identifier", ["", "../x", "A0", "a/b", "a" * 65, "-"])
def test_an_id_that_is_no_id_makes_no_path(tmp_path, identifier):
    with pytest.raises(ValueError, match="hexadecimal"):
        device_folder(tmp_path, identifier)
    with pytest.raises(ValueError, match="hexadecimal"):
        clinic_folder(tmp_path, CLINIC, identifier)


def test_putting_again_changes_nothing_and_mends_a_file_that_was_cut_off(tmp_path):
    writer = FolderWriter(tmp_path)
    path = tmp_path / writer.put(b"whole content", Ending.RECEIPT)
    was = path.stat().st_mtime_ns, path.stat().st_ino
    writer.put(b"whole content", Ending.RECEIPT)
    assert (path.stat().st_mtime_ns, path.stat().st_ino) == was
    for damage in (b"whole", b"", bytes(13)):
        path.write_bytes(damage)
        writer.put(b"whole content", Ending.RECEIPT)
        assert path.read_bytes() == b"whole content"
    with pytest.raises(ValueError, match="exe"):
        writer.put(b"x", ".exe")


def test_writer_that_was_killed_half_way_goes_on(tmp_path):
    digest = sha256(b"whole content").hexdigest()
    (tmp_path / f"{digest}.exam-receipt.part").write_bytes(b"who")
    name = FolderWriter(tmp_path).put(b"whole content", Ending.RECEIPT)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def refuse(*_args, **_kwargs):
    raise OSError(errno.ENOTSUP, "not on this folder")


@pytest.mark.parametrize("refused", ["rename", "flush", "folder flush", "all"])
def test_folder_that_cannot_rename_or_flush_is_written_all_the_same(
    tmp_path, monkeypatch, refused
):
    true_open = os.open
    if refused in ("rename", "all"):
        monkeypatch.setattr(Path, "replace", refuse)
    if refused in ("flush", "all"):
        monkeypatch.setattr(os, "fsync", refuse)
    if refused in ("folder flush", "all"):
        monkeypatch.setattr(
            os,
            "open",
            lambda path, *rest: (
                refuse() if Path(path).is_dir() else true_open(path, *rest)
            ),
        )
    name = FolderWriter(tmp_path).put(b"sealed", Ending.BUNDLE)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_bytes() == b"sealed"


@pytest.mark.parametrize("renames", [True, False])
@pytest.mark.parametrize("number", [errno.EIO, errno.ENOSPC, errno.EDQUOT])
def test_medium_that_fails_to_flush_is_told_and_nothing_is_left(
    tmp_path, monkeypatch, number, renames
):
    def fail(_descriptor):
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        if not renames:
            monkeypatch.setattr(Path, "replace", refuse)
            turns = itertools.count()
            patch.setattr(os, "fsync", lambda one: next(turns) and fail(one))
        else:
            patch.setattr(os, "fsync", fail)
        with pytest.raises(FolderError) as refusal:
            FolderWriter(tmp_path).put(b"sealed", Ending.BUNDLE)
    assert refusal.value.reason == os.strerror(number)
    assert list(tmp_path.iterdir()) == []
    FolderWriter(tmp_path).put(b"sealed", Ending.BUNDLE)
    assert ready_of(FolderReader(tmp_path)) == [b"sealed"]


def test_name_appears_after_its_content_is_flushed(tmp_path, monkeypatch):
    steps = []
    true_replace, true_fsync = Path.replace, os.fsync

    def noted_replace(self, target):
        steps.append(f"rename {self.suffix} to {Path(target).suffix}")
        return true_replace(self, target)

    def noted_fsync(descriptor):
        steps.append("flush")
        true_fsync(descriptor)

    monkeypatch.setattr(Path, "replace", noted_replace)
    monkeypatch.setattr(os, "fsync", noted_fsync)
    FolderWriter(tmp_path).put(b"sealed", Ending.BUNDLE)
    assert steps == ["flush", "rename .part to .exam-bundle", "flush"]


def test_full_folder_is_told_and_leaves_no_half_file(tmp_path, monkeypatch):
    true_open = Path.open

    def full(self, mode="r", *rest, **named):
        file = true_open(self, mode, *rest, **named)
        if "w" in mode:
            file.write(b"ha")
            file.close()
            raise OSError(errno.ENOSPC, "No space left on device")
        return file

    FolderWriter(tmp_path).put(b"earlier", Ending.BUNDLE)
    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", full)
        with pytest.raises(FolderError) as refusal:
            FolderWriter(tmp_path).put(b"sealed", Ending.BUNDLE)
    assert refusal.value.reason == "No space left on device"
    assert ready_of(FolderReader(tmp_path)) == [b"earlier"]
    assert len(list(tmp_path.iterdir())) == 1


def test_folder_that_is_gone_is_told(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(FolderError):
        FolderWriter(tmp_path / "file" / "x").put(b"sealed", Ending.BUNDLE)
    for gone in (tmp_path / "gone", tmp_path / "file"):
        with pytest.raises(FolderError):
            FolderReader(gone).look((), NOW)


def test_known_content_is_not_offered_under_any_name(tmp_path):
    FolderWriter(tmp_path).put(b"sealed", Ending.BUNDLE)
    (tmp_path / "COPY.EXA").write_bytes(b"sealed")
    reader = FolderReader(tmp_path)
    assert ready_of(reader) == [b"sealed"]
    look = reader.look({sha256(b"sealed").hexdigest()}, NOW)
    assert (look.ready, look.waiting, look.is_all) == ((), (), True)


@pytest.mark.parametrize(
    "name",
    [
        "{hash}.exam-bundle",
        "{upper}.EXAM-BUNDLE",
        "{hash}.exam-bundle (1)",
        "{hash} (1).exam-bundle",
        "{hash}.sync-conflict-20261125-120000-ABCDEFG.exam-bundle",
        "{hash} (conflicted copy 2026-11-25).exam-receipt",
        ".~{hash}.exam-day-pack",
        "{hash}.exam-card.part",
    ],
)
def test_whole_file_is_known_by_the_hash_somewhere_in_its_name(tmp_path, name):
    digest = sha256(b"sealed").hexdigest()
    path = tmp_path / name.format(hash=digest, upper=digest.upper())
    path.write_bytes(b"sealed")
    (found,) = FolderReader(tmp_path).look((), NOW).ready
    assert (found.content, found.name_fits) == (b"sealed", True)


@pytest.mark.parametrize(
    "name", ["3F2A91~1.EXA", "from anna.exam-bundle", "ab" * 32 + ".exam-bundle"]
)
def test_content_under_a_foreign_name_is_offered_for_trying(tmp_path, name):
    (tmp_path / name).write_bytes(b"sealed")
    (found,) = FolderReader(tmp_path).look((), NOW).ready
    assert (found.content, found.name_fits) == (b"sealed", False)


@pytest.mark.parametrize("name", ["x.part", "readme.txt", "exam-bundle", "x.exact"])
def test_other_files_are_not_opened(tmp_path, name):
    (tmp_path / name).write_bytes(b"sealed")
    look = FolderReader(tmp_path).look((), NOW)
    assert (look.ready, look.waiting) == ((), ())


def test_files_known_to_be_whole_are_offered_first(tmp_path):
    (tmp_path / "0 torn.exam-bundle").write_bytes(b"sea")
    FolderWriter(tmp_path / "x").put(b"sealed", Ending.BUNDLE)
    assert ready_of(FolderReader(tmp_path)) == [b"sealed", b"sea"]


@pytest.mark.parametrize("content", [b"", bytes(500)], ids=["empty", "zeros"])
def test_file_without_content_waits_and_after_a_while_is_overdue(tmp_path, content):
    (tmp_path / "x.exam-bundle").write_bytes(content)
    reader = FolderReader(tmp_path)
    (waiting,) = reader.look((), NOW).waiting
    assert waiting.reason is WaitingReason.INCOMPLETE
    assert not waiting.is_overdue
    later = Moment(NOW.utc_ms + OVERDUE_MS, 60)
    (waiting,) = reader.look((), later).waiting
    assert waiting.is_overdue
    (tmp_path / "x.exam-bundle").write_bytes(b"sealed")
    look = reader.look((), later)
    assert ([one.content for one in look.ready], look.waiting) == ([b"sealed"], ())


def test_half_written_part_waits(tmp_path):
    digest = sha256(b"sealed").hexdigest()
    (tmp_path / f"{digest}.exam-bundle.part").write_bytes(b"sea")
    assert reasons_of(FolderReader(tmp_path)) == [WaitingReason.INCOMPLETE]


def test_what_could_not_be_opened_waits_until_it_changes(tmp_path):
    path = tmp_path / "x.exam-bundle"
    path.write_bytes(b"sea")
    reader = FolderReader(tmp_path)
    reader.set_aside(reader.look((), NOW).ready[0].sha256)
    for _ in range(2):
        assert ready_of(reader) == []
        assert reasons_of(reader) == [WaitingReason.NOT_OPENED]
    path.write_bytes(b"sealed")
    assert ready_of(reader) == [b"sealed"]


def read_names(monkeypatch):
    """Note the names of the files that are read from here on."""
    read, names = folder_reading._content, []

    def noting(path):
        names.append(path.name)
        return read(path)

    monkeypatch.setattr(folder_reading, "_content", noting)
    return names


def test_what_was_put_off_is_offered_after_a_while_or_when_asked_for(
    tmp_path, monkeypatch
):
    reader, writer = FolderReader(tmp_path), FolderWriter(tmp_path)
    writer.put(b"picture", Ending.PHOTOGRAPH)
    (tmp_path / "copy.exam-photograph").write_bytes(b"picture")
    writer.put(b"other", Ending.BUNDLE)
    digest = sha256(b"picture").hexdigest()
    assert len(ready_of(reader)) == 2
    reader.put_off(digest, NOW)
    names = read_names(monkeypatch)
    look = reader.look((), NOW)
    assert [one.content for one in look.ready] == [b"other"]
    assert (look.put_off, look.waiting) == (1, ())
    # Many are large: the one named by its hash is not read meanwhile.
    assert f"{digest}{Ending.PHOTOGRAPH}" not in names
    reader.offer_again()
    assert len(ready_of(reader)) == 2
    reader.put_off(digest, NOW)
    for after, offered in ((TRY_AGAIN_MS - 1, 1), (TRY_AGAIN_MS, 2)):
        later = Moment(NOW.utc_ms + after, 60)
        assert len(reader.look((), later).ready) == offered
    reader.put_off(digest, NOW)
    # A clock that was set back holds nothing up.
    assert len(reader.look((), Moment(NOW.utc_ms - 1, 60)).ready) == 2


def test_what_was_put_off_is_forgotten_with_its_file(tmp_path):
    reader, writer = FolderReader(tmp_path), FolderWriter(tmp_path)
    name = writer.put(b"picture", Ending.PHOTOGRAPH)
    reader.put_off(sha256(b"picture").hexdigest(), NOW)
    assert reader.look((), NOW).put_off == 1
    (tmp_path / name).unlink()
    assert reader.look((), NOW).put_off == 0
    writer.put(b"picture", Ending.PHOTOGRAPH)
    assert ready_of(reader) == [b"picture"]


def test_what_was_taken_before_is_named(tmp_path):
    writer = FolderWriter(tmp_path)
    name = writer.put(b"picture", Ending.PHOTOGRAPH)
    (tmp_path / "copy.exam-bundle").write_bytes(b"picture")
    look = FolderReader(tmp_path).look({sha256(b"picture").hexdigest()}, NOW)
    assert sorted(look.known) == [name, "copy.exam-bundle"]
    assert look.ready == ()


def test_oversized_file_is_refused_unread(tmp_path, monkeypatch):
    with (tmp_path / "bomb.exam-bundle").open("wb") as bomb:
        bomb.truncate(2**34)
    (tmp_path / "fits.exam-bundle").write_bytes(b"x" * 100)
    reader = FolderReader(tmp_path)
    assert reasons_of(reader) == [WaitingReason.TOO_LARGE]
    monkeypatch.setattr(folder_reading, "LARGEST_FILE", 100)
    assert ready_of(reader) == [b"x" * 100]
    assert reasons_of(reader) == [WaitingReason.TOO_LARGE]


def test_file_that_grows_while_it_is_read_is_refused(tmp_path, monkeypatch):
    path = tmp_path / "grows.exam-bundle"
    path.write_bytes(b"x" * 100)
    small = path.stat()
    path.write_bytes(b"x" * 5_000)
    monkeypatch.setattr(folder_reading.os, "fstat", lambda _descriptor: small)
    monkeypatch.setattr(folder_reading, "LARGEST_FILE", 100)
    assert reasons_of(FolderReader(tmp_path)) == [WaitingReason.TOO_LARGE]


@POSIX
def test_links_pipes_sockets_and_folders_are_not_opened(tmp_path):
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.exam-bundle").write_bytes(b"secret")
    root = tmp_path / "root"
    root.mkdir()
    (root / "link.exam-bundle").symlink_to(outside / "secret.exam-bundle")
    (root / "folder-link").symlink_to(outside)
    (root / "folder.exam-bundle").mkdir()
    (root / "loop").symlink_to(root)
    os.mkfifo(root / "pipe.exam-bundle")
    with socket.socket(socket.AF_UNIX) as listening:
        here = Path.cwd()
        os.chdir(root)
        listening.bind("s.exam-bundle")
        os.chdir(here)
        look = FolderReader(root).look((), NOW)
    assert (look.ready, look.waiting) == ((), ())


@POSIX
def test_link_put_in_place_between_listing_and_opening_is_not_followed(tmp_path):
    (tmp_path / "secret").write_bytes(b"secret")
    (tmp_path / "x.exam-bundle").symlink_to(tmp_path / "secret")
    with pytest.raises(OSError, match=r"(?i)symbolic link"):
        folder_reading._content(tmp_path / "x.exam-bundle")


@POSIX
def test_name_that_is_no_text_can_be_shown(tmp_path):
    Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff.exam-bundle")).write_bytes(b"x")
    Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xfe.exam-bundle")).write_bytes(b"")
    look = FolderReader(tmp_path).look((), NOW)
    assert look.ready[0].name.encode() == b"?.exam-bundle"
    assert look.waiting[0].name.encode() == b"?.exam-bundle"


def test_deep_and_crowded_folders_are_read_up_to_a_bound_and_it_is_said(
    tmp_path, monkeypatch
):
    for depth in range(6):
        folder = tmp_path.joinpath(*"abcdef"[:depth])
        folder.mkdir(exist_ok=True)
        (folder / "x.exam-bundle").write_bytes(bytes([65 + depth]) * 40)
    look = FolderReader(tmp_path).look((), NOW)
    assert sorted(one.content[:1] for one in look.ready) == [b"A", b"B", b"C", b"D"]
    assert look.is_all
    monkeypatch.setattr(folder_reading, "MOST_HELD", 50)
    look = FolderReader(tmp_path).look((), NOW)
    assert (len(look.ready), look.is_all) == (2, False)
    monkeypatch.setattr(folder_reading, "MOST_FILES", 1)
    look = FolderReader(tmp_path).look((), NOW)
    assert (len(look.ready), look.is_all) == (1, False)


def faulty_trials(tmp_path, seeds):
    totals = dict.fromkeys(("written", "wrong", "missing", "duplicate"), 0)
    faults = set()
    for seed in seeds:
        outcome = play_trial(tmp_path / str(seed), seed, NOW)
        for key in totals:
            totals[key] += getattr(outcome, key)
        faults |= outcome.faults
    return totals, faults


def test_files_that_tools_mangle_arrive_once_and_unaltered(tmp_path):
    totals, faults = faulty_trials(tmp_path, range(8))
    expected = {"written": 8 * 8, "wrong": 0, "missing": 0, "duplicate": 0}
    assert totals == expected
    assert len(faults) >= 9


@pytest.mark.exhaustive
def test_a_hundred_and_fifty_faulty_folders_lose_and_double_nothing(tmp_path):
    totals, faults = faulty_trials(tmp_path, range(150))
    text = ", ".join(f"{count} {key}" for key, count in totals.items())
    print(f"150 trials, {text}; faults: {', '.join(sorted(faults))}")
    expected = {"written": 150 * 8, "wrong": 0, "missing": 0, "duplicate": 0}
    assert totals == expected


def test_the_faults_would_be_noticed(tmp_path):
    """A reader that trusts names takes torn and flipped files, and loses others."""
    wrong = missing = 0
    for seed in range(4):
        outcome = play_trial(tmp_path / str(seed), seed, NOW, trust_names=True)
        wrong, missing = wrong + outcome.wrong, missing + outcome.missing
    assert wrong > 3
    assert missing > 3


def test_ending_of_every_kind_is_one_that_is_read():
    for ending in Ending:
        assert re.search(folder_reading._OURS, f"x{ending}")
