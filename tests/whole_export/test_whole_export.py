"""A whole export: complete, ended at any point and gone on with, checked by itself.

Sums are compared with Python's own ``hashlib``; the signature of a record with
``cbor2`` and ``cryptography`` alone, by the script of the export's FORMAT.md.
"""

import asyncio
import csv
import errno
import hashlib
import io
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from exam_app.app.pictures.plain_jpeg import made_plain
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.visit import Photo, PrivateNote
from exam_app.record.errors import BadSignatureError
from exam_app.store.engine.files import open_file
from exam_app.whole_export import exporting, folder
from exam_app.whole_export.checking import check_export
from exam_app.whole_export.contents import Wanted
from exam_app.whole_export.exporting import export_all
from exam_app.whole_export.folder import (
    ExportDiskFullError,
    NotAnExportError,
    read_sums,
)
from exam_app.whole_export.record_files import FORMS
from tests.exam_samples import BY, NOW
from tests.handover_places import LATER, animal, new_place, small_exam
from tests.photographs import content_of, drawn

OWNER = Owner("Ottilie Quandt", "555 0199")
ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "exam_app" / "export" / "FORMAT.md"


@pytest.fixture
def place(tmp_path):
    """A device with three records: one with notes, one with a photograph."""
    made = asyncio.run(filled(tmp_path / "v"))
    yield made
    made.vault.close()


async def filled(at):
    place = await new_place(at, "Tablet", "field", is_demo=False, opener=open_file)
    bramble = animal("Bramble", is_demo=False)
    picture = plain_picture()
    key = hashlib.sha256(picture).hexdigest()
    private = (PrivateNote("bruises of an old kind", BY),)
    place.close_exam(small_exam("one", of=bramble, private_notes=private), OWNER)
    place.vault.photographs.add(small_exam("two").exam_id, picture)
    photos = (Photo(key, "the crusts", "nose", attribution=BY),)
    place.close_exam(small_exam("two", of=bramble, photos=photos))
    place.close_exam(small_exam("three", of=animal("Sorrel", is_demo=False)))
    first = small_exam("one").exam_id
    note = place.sign_note("a note", first, text="seen again by hand")
    place.vault.notes.put("n" * 32, first, note)
    return place


def plain_picture():

    return made_plain(content_of(drawn(64, 48)))


def export(place, target, wanted=None, **more):
    return asyncio.run(export_all(place.vault, target, LATER, wanted, **more))


def contents(target):
    found = (path for path in sorted(target.rglob("*")) if path.is_file())
    return {path.relative_to(target).as_posix(): path.read_bytes() for path in found}


def key_of(target):
    return bytes.fromhex(
        json.loads((target / "keys.json").read_text())[0]["ed25519_public_key"]
    )


def test_every_record_is_there_in_every_form_and_the_folder_checks_itself(
    place, tmp_path
):
    found = export(place, tmp_path / "out")
    assert (found.total, found.done, found.written) == (3, 3, 3)
    assert found.is_whole
    files = contents(tmp_path / "out")
    for name, _ in FORMS:
        assert len([path for path in files if path.endswith(f"/{name}")]) == 3
    checked = check_export(tmp_path / "out", key_of(tmp_path / "out"))
    assert (checked.faults, checked.records, checked.is_known) == ([], 3, True)
    # All but the list itself and its signature, which is over it.
    assert checked.files == len(files) - 2


def test_signed_bytes_leave_the_store_unaltered(place, tmp_path):
    export(place, tmp_path / "out")
    files = contents(tmp_path / "out")
    for row in place.vault.closed.everything():
        (name,) = [
            n for n in files if n.endswith(f"{row.record_hash[:16]}/record.cose")
        ]
        assert files[name] == place.vault.closed.get(row.exam_id, row.record_hash)


def test_sums_are_those_of_hashlib_and_name_every_file(place, tmp_path):
    export(place, tmp_path / "out")
    files = contents(tmp_path / "out")
    listed = dict(read_sums(tmp_path / "out" / "SHA256SUMS"))
    assert set(files) - set(listed) == {"SHA256SUMS", "SHA256SUMS.cose"}
    for name, digest in listed.items():
        assert hashlib.sha256(files[name]).hexdigest() == digest


def test_private_notes_and_owners_are_left_out_unless_named(place, tmp_path):
    target = tmp_path / "out"
    export(place, target)
    before = b"".join(contents(target).values())
    assert b"bruises" not in before
    assert b"Quandt" not in before
    assert "veterinarian only" in (target / "NOT_IN_IT.txt").read_text()
    export(place, target, Wanted(private_notes=True, owners=True))
    told = [name for name, said in contents(target).items() if b"bruises" in said]
    endings = {name.rpartition("/")[2] for name in told}
    fhir = {"record.fhir-r4.json", "record.fhir-r5.json"}
    assert endings == {"record.txt", "record.json"} | fhir
    assert b"Ottilie Quandt" in (target / "owners.csv").read_bytes()
    # And a later run without them takes them out again.
    export(place, target)
    after = b"".join(contents(target).values())
    assert b"bruises" not in after
    assert b"Quandt" not in after
    assert check_export(target).is_consistent


def test_a_second_run_writes_no_record_again_and_what_is_new_is_added(place, tmp_path):
    target = tmp_path / "out"
    export(place, target)
    records = {p: p.stat().st_mtime_ns for p in target.glob("records/*/*/*")}
    assert export(place, target).written == 0
    assert {p: p.stat().st_mtime_ns for p in target.glob("records/*/*/*")} == records
    place.close_exam(small_exam("four", of=animal("Tansy", is_demo=False)))
    found = export(place, target)
    assert (found.total, found.written) == (4, 1)
    assert check_export(target).records == 4


def test_a_note_that_came_since_is_written_beside_its_record(place, tmp_path):
    target = tmp_path / "out"
    export(place, target)
    third = small_exam("three").exam_id
    note = place.sign_note("another", third, text="a word more")
    place.vault.notes.put("m" * 32, third, note)
    assert export(place, target).written == 1
    said = [c for n, c in contents(target).items() if n.endswith("record.txt")]
    assert sum(b"a word more" in text for text in said) == 1


class StopError(Exception):
    """The process ended here."""


@pytest.mark.slow
def test_a_run_ended_before_any_write_is_gone_on_with_and_nothing_is_lost(
    place, tmp_path, monkeypatch
):
    whole = tmp_path / "whole"
    export(place, whole)
    expected = contents(whole)
    real, points, kept = Path.replace, 0, []
    for number in range(0, 200, 2):
        target = tmp_path / f"out{number}"
        left = number

        def replace_or_stop(self, other):
            nonlocal left
            if left == 0:
                raise StopError
            left -= 1
            return real(self, other)

        monkeypatch.setattr(Path, "replace", replace_or_stop)
        try:
            export(place, target)
        except StopError:
            points += 1
        else:
            break
        finally:
            monkeypatch.setattr(Path, "replace", real)
        assert not check_export(target).is_consistent
        done = len(list(target.glob("records/*/*/SHA256SUMS")))
        found = export(place, target)
        assert found.written == 3 - done
        assert contents(target) == expected
        kept.append(done)
    assert points > 15
    assert set(kept) == {0, 1, 2, 3}


@pytest.mark.slow
def test_a_process_killed_in_the_middle_is_gone_on_with(place, tmp_path):
    whole, target = tmp_path / "whole", tmp_path / "out"
    export(place, whole)
    place.vault.close()
    script = (
        "import asyncio, os, signal, sys\n"
        "from pathlib import Path\n"
        "from exam_app.whole_export.exporting import export_all\n"
        "from tests.handover_places import LATER, open_place\n"
        "async def run():\n"
        "    place = await open_place(Path(sys.argv[1]), 'Tablet', is_demo=False)\n"
        "    def tell(found):\n"
        "        if found.done == 2:\n"
        "            os.kill(os.getpid(), signal.SIGKILL)\n"
        "    await export_all(place.vault, Path(sys.argv[2]), LATER, None, tell)\n"
        "asyncio.run(run())\n"
    )
    command = [sys.executable, "-c", script, str(tmp_path / "v"), str(target)]
    ended = subprocess.run(command, cwd=ROOT, check=False, capture_output=True)
    assert ended.returncode == -9, ended.stderr.decode()
    assert (target / "UNFINISHED.txt").is_file()

    async def again():
        from tests.handover_places import open_place

        back = await open_place(tmp_path / "v", "Tablet", is_demo=False)
        try:
            return await export_all(back.vault, target, LATER)
        finally:
            back.vault.close()

    assert asyncio.run(again()).written == 1
    assert contents(target) == contents(whole)


def test_a_full_disk_is_said_and_what_was_written_stays(place, tmp_path, monkeypatch):
    target, calls = tmp_path / "out", 0
    real = folder.os.open

    def full(path, *more):
        nonlocal calls
        calls += str(path).startswith(str(target))
        if calls > 14 and str(path).startswith(str(target)):
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(path, *more)

    monkeypatch.setattr(folder.os, "open", full)
    with pytest.raises(ExportDiskFullError) as refused:
        export(place, target)
    assert "goes on where it stopped" in refused.value.advice
    monkeypatch.setattr(folder.os, "open", real)
    done = len(list(target.glob("records/*/*/SHA256SUMS")))
    assert done >= 1
    assert list(target.rglob("*.part")) == []
    assert export(place, target).written == 3 - done
    assert check_export(target).is_consistent


@pytest.mark.slow
def test_a_changed_missing_or_added_file_is_found_wherever_it_is(place, tmp_path):
    target = tmp_path / "out"
    export(place, target)
    known = key_of(target)
    for name, content in contents(target).items():
        path = target / name
        middle = len(content) // 2
        flipped = bytes([content[middle] ^ 1])
        path.write_bytes(content[:middle] + flipped + content[middle + 1 :])
        assert not check_export(target, known).is_consistent, name
        path.unlink()
        assert not check_export(target, known).is_consistent, name
        path.write_bytes(content)
    (target / "records" / "more.txt").write_text("added")
    assert check_export(target, known).faults == ["records/more.txt is in no list."]
    (target / "records" / "more.txt").unlink()
    assert check_export(target, known).is_consistent


def test_a_damaged_file_is_written_again_by_the_next_run(place, tmp_path):
    target = tmp_path / "out"
    export(place, target)
    expected = contents(target)
    every = sorted(target.glob("records/*/*/SHA256SUMS"))
    plain = next(path for path in every if "photographs" not in path.read_text())
    damaged = plain.with_name("record.json")
    damaged.write_bytes(damaged.read_bytes()[:100])
    (picture,) = target.glob("photographs/*.jpg")
    picture.write_bytes(b"")
    assert export(place, target).written == 2
    assert contents(target) == expected


def test_sums_that_were_made_anew_do_not_pass_for_the_signed_ones(place, tmp_path):
    target = tmp_path / "out"
    export(place, target)
    (text, *_) = sorted(target.glob("records/*/*/record.txt"))
    name = text.relative_to(target).as_posix()
    old = hashlib.sha256(text.read_bytes()).hexdigest()
    text.write_bytes(b"no abnormality found\n")
    new = hashlib.sha256(text.read_bytes()).hexdigest()
    sums = target / "SHA256SUMS"
    sums.write_text(sums.read_text().replace(f"{old}  {name}", f"{new}  {name}"))
    faults = check_export(target, key_of(target)).faults
    assert faults == ["SHA256SUMS is not the list that was signed."]


def test_another_key_than_the_one_named_is_no_proof(place, tmp_path):
    target = tmp_path / "out"
    export(place, target)
    assert not check_export(target, bytes(32)).is_consistent
    unnamed = check_export(target)
    assert (unnamed.is_consistent, unnamed.is_known) == (True, False)


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    ["../outside", "/etc/passwd", "records/../../outside", "C:\\x", "a\\..\\b"],
)
def test_a_list_that_leads_out_of_the_folder_is_not_followed(place, tmp_path, name):
    target = tmp_path / "out"
    export(place, target)
    with (target / "SHA256SUMS").open("a") as sums:
        sums.write(f"{'0' * 64}  {name}\n")
    assert f"{name!r} is no name inside the folder." in check_export(target).faults


@pytest.mark.slow
@pytest.mark.parametrize("content", [b"", b"\0" * 70, b"[", b"x" * 20_000, b"\xff\n"])
def test_hostile_lists_and_keys_are_faults_and_no_crash(place, tmp_path, content):
    for name in ("SHA256SUMS", "SHA256SUMS.cose", "keys.json"):
        target = tmp_path / f"out-{name}"
        export(place, target)
        (target / name).write_bytes(content)
        assert not check_export(target).is_consistent


@pytest.mark.slow
@pytest.mark.parametrize("place_of", ["pipe", "link", "endless"])
def test_a_pipe_or_a_link_in_place_of_a_file_is_a_fault_and_is_not_read(
    place, tmp_path, place_of
):
    target = tmp_path / "out"
    export(place, target)
    known = key_of(target)
    for name in ("keys.json", "SHA256SUMS.cose", "animals.csv", "SHA256SUMS"):
        path = target / name
        content = path.read_bytes()
        path.unlink()
        if place_of == "pipe":
            os.mkfifo(path)
        elif place_of == "link":
            (tmp_path / "elsewhere").write_bytes(content)
            path.symlink_to(tmp_path / "elsewhere")
        else:
            path.symlink_to("/dev/zero")
        assert not check_export(target, known).is_consistent
        path.unlink()
        path.write_bytes(content)
    (target / "photographs").rename(tmp_path / "photographs")
    (target / "photographs").symlink_to(tmp_path / "photographs")
    assert not check_export(target, known).is_consistent


def test_a_folder_with_other_files_is_left_alone(place, tmp_path):
    target = tmp_path / "out"
    target.mkdir()
    (target / "letter.txt").write_text("mine")
    with pytest.raises(NotAnExportError):
        export(place, target)
    assert contents(target) == {"letter.txt": b"mine"}


def test_a_missing_picture_is_named_and_a_damaged_record_costs_nothing_else(
    place, tmp_path, monkeypatch
):
    photos = (Photo("a1" * 32, "not here", "nose", attribution=BY),)
    place.close_exam(small_exam("five", of=animal("Rue"), photos=photos))
    bad = small_exam("three").exam_id
    real = exporting.record_reader

    def reader(vault):
        read = real(vault)

        def or_refuse(exam_id, record_hash):
            if exam_id == bad:
                raise BadSignatureError
            return read(exam_id, record_hash)

        return or_refuse

    monkeypatch.setattr(exporting, "record_reader", reader)
    found = export(place, tmp_path / "out")
    assert (found.unread, found.no_picture) == (1, {"a1" * 32})
    said = (tmp_path / "out" / "NOT_IN_IT.txt").read_text()
    assert "a1" * 32 in said
    assert "1 record does not verify" in said
    kept = tmp_path / "out" / "records" / "not-verified"
    assert [path.suffix for path in sorted(kept.iterdir())] == [".cose", ".txt"]
    assert check_export(tmp_path / "out").is_consistent
    # Once it verifies and the picture came, both are whole.
    monkeypatch.setattr(exporting, "record_reader", real)
    assert export(place, tmp_path / "out").unread == 0
    assert not list(kept.glob("*"))


def test_the_table_of_all_is_the_tables_of_each_and_no_cell_is_run(place, tmp_path):
    place.close_exam(small_exam("six", of=animal("=1+1", is_demo=False)))
    export(place, tmp_path / "out")
    whole = (tmp_path / "out" / "records.csv").read_text("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(whole, newline="")))
    exams = {row["exam"] for row in rows}
    assert exams == {row.exam_id for row in place.vault.closed.everything()}
    assert "'=1+1" in {row["animal"] for row in rows}
    animals = (tmp_path / "out" / "animals.csv").read_text("utf-8-sig")
    assert "'=1+1" in animals


@pytest.mark.slow
def test_the_script_of_the_page_verifies_a_record_without_the_app(place, tmp_path):
    export(place, tmp_path / "out")
    (script,) = re.findall(r"```python\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL)
    (signed, *_) = sorted((tmp_path / "out").glob("records/*/*/record.cose"))
    for path in (signed, tmp_path / "out" / "SHA256SUMS.cose"):
        command = [sys.executable, "-I", "-c", script, str(path)]
        key = key_of(tmp_path / "out").hex()
        said = subprocess.run([*command, key], capture_output=True, check=False)
        assert said.stdout == b"the signature fits\n", said.stderr
        other = subprocess.run([*command, "00" * 32], capture_output=True, check=False)
        assert other.returncode != 0


def test_the_page_names_every_file_of_an_export(place, tmp_path):
    export(place, tmp_path / "out", Wanted(owners=True))
    page = PAGE.read_text("utf-8")
    for name in contents(tmp_path / "out"):
        last = re.sub(r"[0-9a-f]{16,}", "H", name.rpartition("/")[2])
        is_named = last in page or last in ("H", "H.jpg", "note-H.cose")
        assert is_named, name


def test_a_former_revision_has_a_folder_of_its_own(place, tmp_path):
    first = small_exam("one", of=animal("Bramble", is_demo=False))
    (row,) = place.vault.closed.revisions(first.exam_id)
    again = replace(first, revision=1, parent_hash=row.record_hash, remark="mended")
    place.close_exam(again)
    export(place, tmp_path / "out")
    assert len(list((tmp_path / "out").glob("records/*/*/record.cose"))) == 4
    assert NOW < LATER
