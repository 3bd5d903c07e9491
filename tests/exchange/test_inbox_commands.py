"""The clinic's inbox without a page: receive, spool, verify, and their exit codes."""

import io
import json
import os
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from exam_app.__main__ import Costs, main
from exam_app.app.clinic.imports import take_in_spool
from exam_app.app.session import Session
from exam_app.crypto import door
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.spool import spool, spooled
from exam_app.store.engine.files import open_file
from sync.errors import FolderError
from sync.transport import folder_reading
from sync.transport.folder import Ending, FolderWriter, device_folder
from sync.transport.folder_reading import LARGEST_FILE, WaitingReason
from sync.trust.words import compared_words
from tests.handover_places import (
    BOUNDS,
    CHEAP,
    LATER,
    PASSPHRASE,
    animal,
    new_place,
    open_place,
    paired_places,
    small_exam,
)
from tests.photographed_places import close_with, sealed_of
from tests.pictures import picture

COSTS = Costs(CHEAP, BOUNDS)
REAL = animal(is_demo=False)


@pytest.fixture
async def closed_places(tmp_path):
    """A real clinic in files, closed, and an open tablet paired with it."""
    async with paired_places(tmp_path, opener=open_file, is_demo=False) as (
        clinic,
        tablet,
    ):
        (bundle,) = tablet.hand_over(tablet.close_exam(small_exam("one", of=REAL)))
        tablet.file = tmp_path / "one.exam-bundle"
        tablet.file.write_bytes(bundle.sealed)
        tablet.bundle = bundle
        clinic.vault.close()
        yield clinic, tablet


def run(monkeypatch, capsys, folder, *arguments, typed=PASSPHRASE):
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"{typed}\n"))
    given = [*map(str, arguments), "--json", "--data", str(folder / "clinic")]
    code = main(given, COSTS)
    out = capsys.readouterr().out
    return code, json.loads(out)["files"] if out else []


def test_a_bundle_is_received_and_its_code_printed(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    receipts = tmp_path / "shared"
    receipts.mkdir()
    arguments = ("receive", tablet.file, "--receipts", receipts)
    code, (told,) = run(monkeypatch, capsys, tmp_path, *arguments)
    assert code == 0
    assert told["receipt_code"] == tablet.bundle.code
    assert [line["outcome"] for line in told["records"]] == ["stored"]
    (receipt,) = receipts.rglob("*.exam-receipt")
    from exam_app.exchange.outbox import take_receipt

    take_receipt(tablet.exchange, receipt.read_bytes())
    assert Exchange(tablet.vault).state_of(tablet.bundle.exam_ids[0]) == "received"
    code, (again,) = run(monkeypatch, capsys, tmp_path, *arguments)
    assert (code, again["state"]) == (0, "received before")


def test_a_folder_of_bundles_is_received(closed_places, tmp_path, monkeypatch, capsys):
    _, tablet = closed_places
    root = tmp_path / "stick"
    root.mkdir()
    place = device_folder(root, tablet.device_id)
    FolderWriter(place).put(tablet.bundle.sealed, Ending.BUNDLE)
    (place / ("0" * 64 + ".exam-bundle")).write_bytes(b"torn")
    code, files = run(monkeypatch, capsys, tmp_path, "receive", root)
    assert code == 4
    assert sorted(file["state"] for file in files) == ["received", "refused"]


def test_the_passphrase_is_no_argument_and_a_wrong_one_does_nothing(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    arguments = ("receive", tablet.file)
    assert run(monkeypatch, capsys, tmp_path, *arguments, typed="wrong")[0] == 1
    with pytest.raises(SystemExit) as refused:
        main(["receive", str(tablet.file), "--passphrase", PASSPHRASE], COSTS)
    assert refused.value.code == 2


async def test_while_the_store_is_held_bundles_wait_sealed_without_receipt(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    holding = await open_place(tmp_path / "clinic", "Clinic", is_demo=False)
    try:
        code, (told,) = await_run(monkeypatch, capsys, tmp_path, tablet.file)
        assert (code, told["state"]) == (3, "spooled")
        assert "receipt_code" not in told
        assert holding.hashes() == []
    finally:
        holding.vault.close()
    ((_, waiting),) = spooled(tmp_path / "clinic")
    assert waiting == tablet.bundle.sealed
    session = Session(tmp_path / "clinic", CHEAP, BOUNDS)
    await session.open_with_passphrase(PASSPHRASE)
    take_in_spool(session.vault, tmp_path / "clinic", LATER)
    kept = session.vault.closed.get(tablet.bundle.exam_ids[0])
    receipt = Exchange(session.vault).incoming.receipt(tablet.bundle.bundle_hash)
    session.close()
    assert kept is not None
    assert receipt is not None
    assert list(spooled(tmp_path / "clinic")) == []


def await_run(monkeypatch, capsys, folder, path):
    """Run ``receive`` beside a running loop, in a thread of its own."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(run, monkeypatch, capsys, folder, "receive", path).result(
            timeout=60
        )


def test_spooling_asks_for_no_passphrase(closed_places, tmp_path, monkeypatch, capsys):
    _, tablet = closed_places
    arguments = ("receive", tablet.file, tablet.file, "--spool")
    code, files = run(monkeypatch, capsys, tmp_path, *arguments, typed="")
    assert code == 3
    assert len({file["sha256"] for file in files}) == 1
    assert len(list(spooled(tmp_path / "clinic"))) == 1
    code, files = run(monkeypatch, capsys, tmp_path, "receive", tablet.file)
    assert code == 0
    assert [file["state"] for file in files] == ["received", "received before"]


def test_what_cannot_be_opened_leaves_the_spool_and_is_kept(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    folder = tmp_path / "clinic"
    spool(folder, b"no bundle")
    (folder / "spool" / "half.part").write_bytes(b"cut off")
    code, files = run(monkeypatch, capsys, tmp_path, "receive", tablet.file)
    assert code == 4
    assert [file["state"] for file in files] == ["refused", "received"]
    assert list(spooled(folder)) == []
    (aside,) = (folder / "spool").glob("*.refused")
    assert aside.read_bytes() == b"no bundle"


async def test_a_field_device_receives_nothing(tmp_path, monkeypatch, capsys):
    place = await new_place(tmp_path / "clinic", "Tablet", "field", False, open_file)
    place.vault.close()
    (tmp_path / "x.exam-bundle").write_bytes(b"x")
    code, _ = await_run(monkeypatch, capsys, tmp_path, tmp_path / "x.exam-bundle")
    assert code == 1


def test_a_record_is_verified_with_known_keys_or_a_key_given(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    record = tablet.sign(small_exam("one", of=REAL))
    path = tmp_path / "record"
    path.write_bytes(record)
    code, (told,) = run(monkeypatch, capsys, tmp_path, "verify", path)
    assert (code, told["verified"]) == (0, True)
    assert told["sha256"] == door.sha256(record).hex()
    words = (door.sha256(record), bytes.fromhex(told["key_id"]))
    said = (told["words"], told["key_words"])
    assert said == tuple(" ".join(compared_words(one)) for one in words)
    key = door.signing_public_key(tablet.seed).hex()
    arguments = ("verify", path, "--key", key)
    assert run(monkeypatch, capsys, tmp_path, *arguments, typed="")[0] == 0
    other = door.signing_public_key(bytes(32)).hex()
    for wrong in (other, "no key", "00"):
        arguments = ("verify", path, "--key", wrong)
        code, (told,) = run(monkeypatch, capsys, tmp_path, *arguments)
        assert (code, told["verified"]) == (4, False)
    path.write_bytes(record[:-1] + bytes([record[-1] ^ 1]))
    code, (told,) = run(monkeypatch, capsys, tmp_path, "verify", path)
    assert (code, told["error"]) == (4, "BadSignatureError")


def test_verifying_a_bundle_imports_nothing(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    code, (told,) = run(monkeypatch, capsys, tmp_path, "verify", tablet.file)
    assert (code, told["verified"], told["kind"]) == (0, True, "exams")
    code, (told,) = run(monkeypatch, capsys, tmp_path, "receive", tablet.file)
    assert told["state"] == "received"


def test_the_help_names_every_exit_code(capsys):
    for command in ("receive", "verify"):
        with pytest.raises(SystemExit):
            main([command, "--help"], COSTS)
        shown = capsys.readouterr().out
        for code in range(5):
            assert f"\n  {code}  " in shown
        assert "standard input" in " ".join(shown.split())


def test_without_json_a_person_reads_lines(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    place = ("--data", str(tmp_path / "clinic"))
    said = []
    for command in ("verify", "receive", "receive"):
        monkeypatch.setattr(sys, "stdin", io.StringIO(f"{PASSPHRASE}\n"))
        assert main([command, str(tablet.file), *place], COSTS) == 0
        said.append(capsys.readouterr().out)
    assert ": verified. bundle 1 of Tablet one, 1 exams" in said[0]
    code = tablet.bundle.code
    assert f": received. 1 stored; receipt code {code}." in said[1]
    assert ": received before. 1 stored" in said[2]
    assert "Bramble" not in "".join(said)


def test_what_is_not_there_is_refused_before_a_passphrase_is_asked_for(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    nowhere = tmp_path / "nowhere"
    (tmp_path / "empty").mkdir()
    for arguments in (
        ("receive", nowhere),
        ("receive", tmp_path / "empty"),
        ("verify", nowhere),
    ):
        assert run(monkeypatch, capsys, tmp_path, *arguments)[0] == 1
    assert run(monkeypatch, capsys, nowhere, "receive", tablet.file)[0] == 1
    assert not nowhere.exists()


def test_notes_and_receipts_are_verified_too(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    shared = tmp_path / "shared"
    shared.mkdir()
    arguments = ("receive", tablet.file, "--receipts", shared)
    run(monkeypatch, capsys, tmp_path, *arguments)
    (receipt,) = shared.rglob("*.exam-receipt")
    note = tmp_path / "note"
    note.write_bytes(tablet.sign_note("n", "ab" * 16))
    for path, word in ((receipt, "receipt"), (note, "addendum by")):
        code, (told,) = run(monkeypatch, capsys, tmp_path, "verify", path)
        assert (code, told["verified"]) == (0, True)
        assert word in told["what"]


BIDI = "invoice\u202egpj.exam-bundle"
ESCAPED = "invoice\\u{202e}gpj.exam-bundle"


def not_taken(files):
    return {
        file["path"].rpartition("/")[2]: file["reason"]
        for file in files
        if file["state"] == "not taken"
    }


def test_every_file_that_is_not_taken_is_named_with_its_reason(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    root = tmp_path / "stick"
    deep = root / "a" / "b" / "c" / "d"
    deep.mkdir(parents=True)
    (deep / "deep.exam-bundle").write_bytes(b"x")
    (root / "good.exam-bundle").write_bytes(tablet.bundle.sealed)
    (root / "huge.exam-bundle").write_bytes(b"x" * (LARGEST_FILE + 1))
    (root / "late.exam-bundle.part").write_bytes(b"half")
    (root / "empty.exam-bundle").touch()
    (root / "holiday.jpg").write_bytes(b"x")
    (root / "link.exam-bundle").symlink_to(root / "good.exam-bundle")
    os.mkfifo(root / "pipe.exam-bundle")
    locked = root / "locked.exam-bundle"
    locked.write_bytes(b"x")
    monkeypatch.setattr(folder_reading, "_content", unreadable(locked))
    code, files = run(monkeypatch, capsys, tmp_path, "receive", root)
    assert code == 4
    assert [f["state"] for f in files if f["state"] != "not taken"] == ["received"]
    assert not_taken(files) == {
        "": WaitingReason.TOO_DEEP,
        "huge.exam-bundle": WaitingReason.TOO_LARGE,
        "late.exam-bundle.part": WaitingReason.INCOMPLETE,
        "empty.exam-bundle": WaitingReason.INCOMPLETE,
        "holiday.jpg": WaitingReason.OTHER_NAME,
        "link.exam-bundle": WaitingReason.NO_FILE,
        "pipe.exam-bundle": WaitingReason.NO_FILE,
        "locked.exam-bundle": WaitingReason.UNREADABLE,
    }


def unreadable(locked):
    """Refuse one file, as the system does where access is denied."""
    read = folder_reading._content

    def refusing(path):
        if path == locked:
            raise PermissionError(13, "denied")
        return read(path)

    return refusing


def test_more_files_than_one_look_holds_are_all_received(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    root = tmp_path / "stick"
    root.mkdir()
    for number in range(6):
        exam_id = tablet.close_exam(small_exam(f"more {number}", of=REAL))
        (bundle,) = tablet.hand_over(exam_id)
        (root / f"{number}.exam-bundle").write_bytes(bundle.sealed)
    monkeypatch.setattr(folder_reading, "MOST_HELD", 1)
    code, files = run(monkeypatch, capsys, tmp_path, "receive", root)
    assert (code, [file["state"] for file in files]) == (0, ["received"] * 6)


def test_folder_of_more_files_than_are_looked_at_says_so(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    root = tmp_path / "stick"
    root.mkdir()
    for number in range(3):
        (root / f"{number}.exam-bundle").write_bytes(tablet.bundle.sealed)
    monkeypatch.setattr(folder_reading, "MOST_FILES", 2)
    code, files = run(monkeypatch, capsys, tmp_path, "receive", root)
    assert code == 4
    assert "stick" in not_taken(files)


@pytest.mark.parametrize("as_json", [True, False])
def test_names_never_steer_or_deceive_the_terminal(
    closed_places, tmp_path, monkeypatch, capsys, as_json
):
    _, tablet = closed_places
    root = tmp_path / "stick"
    root.mkdir()
    (root / BIDI).write_bytes(tablet.bundle.sealed)
    (root / "clear\x1b[2J.txt").write_bytes(b"x")
    (root / "line\nbreak.exam-bundle").write_bytes(b"x")
    for command in (
        ("receive", root),
        ("verify", root / BIDI),
        ("receive", root / BIDI),
    ):
        monkeypatch.setattr(sys, "stdin", io.StringIO(f"{PASSPHRASE}\n"))
        more = ["--json"] if as_json else []
        given = [*map(str, command), *more, "--data", str(tmp_path / "clinic")]
        main(given, COSTS)
        out = "".join(capsys.readouterr())
        lines = out.splitlines()
        assert all(line.isprintable() for line in lines)
        if as_json:
            assert json.loads(out)["files"]
        else:
            assert any(ESCAPED in line for line in lines)


def test_receipts_folder_that_cannot_be_written_stops_before_anything_is_imported(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    no_folder = tmp_path / "file"
    no_folder.write_bytes(b"x")
    arguments = ("receive", tablet.file, "--receipts", no_folder / "receipts")
    assert run(monkeypatch, capsys, tmp_path, *arguments)[0] == 1
    code, (told,) = run(monkeypatch, capsys, tmp_path, "receive", tablet.file)
    assert (code, told["state"]) == (0, "received")


def test_receipts_folder_that_fails_afterwards_is_said_and_the_records_are_stored(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    shared = tmp_path / "shared"

    def full(*_):
        raise FolderError("no space")

    monkeypatch.setattr(FolderWriter, "put", full)
    arguments = ("receive", tablet.file, "--receipts", shared)
    code, files = run(monkeypatch, capsys, tmp_path, *arguments)
    assert (code, [file["state"] for file in files]) == (
        4,
        ["receipt not written", "received"],
    )
    assert list(shared.iterdir()) == []


def test_receiving_a_shared_folder_passes_over_what_this_clinic_wrote_there(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    shared = tmp_path / "shared"
    FolderWriter(device_folder(shared, tablet.device_id)).put(
        tablet.bundle.sealed, Ending.BUNDLE
    )
    arguments = ("receive", shared, "--receipts", shared)
    for state in ("received", "received before"):
        code, files = run(monkeypatch, capsys, tmp_path, *arguments)
        assert (code, [file["state"] for file in files]) == (0, [state])


async def test_verify_says_that_the_signing_device_is_trusted_no_more(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    record, later = (tablet.sign(small_exam(n, of=REAL)) for n in ("one", "later"))
    paths = [tmp_path / name for name in ("kept", "later", "note")]
    contents = (record, later, tablet.sign_note("n", "ab" * 16))
    for path, content in zip(paths, contents, strict=True):
        path.write_bytes(content)
    clinic = await open_place(tmp_path / "clinic", "Clinic", is_demo=False)
    clinic.receive(tablet.seal_exams(clinic, small_exam("one", of=REAL)))
    second = tablet.seal_exams(clinic, small_exam("two", of=REAL), sequence=2)
    sealed = tmp_path / "second.exam-bundle"
    sealed.write_bytes(second)
    pairing = Exchange(clinic.vault).pairing
    pairing.revoke_device(tablet.device_id, 1, LATER.utc_ms, "Dr Ondine")
    clinic.vault.close()
    for path, expected, words in (
        (paths[0], 0, "This one is among the records here"),
        (paths[1], 4, "This one is not"),
        (paths[2], 4, "This one is not"),
        (tablet.file, 0, "This is one of them"),
        (sealed, 4, "This is none of them"),
    ):
        code, (told,) = verify_in_thread(monkeypatch, capsys, tmp_path, path)
        assert (code, told["verified"]) == (expected, True)
        assert "Dr Ondine ended the trust in the device “Tablet one”" in told["revoked"]
        assert words in told["revoked"]


def verify_in_thread(monkeypatch, capsys, folder, path):
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(run, monkeypatch, capsys, folder, "verify", path).result(60)


def photographs_on(root, tablet, *pictures):
    """Put a closed exam's photographs into a folder; give its hand-over, sealed."""
    exam_id = close_with(tablet, "photographed", *pictures, of=REAL)
    writer = FolderWriter(device_folder(root, tablet.device_id))
    for sealed in sealed_of(tablet):
        writer.put(sealed, Ending.PHOTOGRAPH)
    (bundle,) = tablet.hand_over(exam_id)
    return bundle.sealed


def test_the_list_of_photographs_is_written_where_it_says_something_new(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    shared = tmp_path / "shared"
    sealed = photographs_on(shared, tablet, picture(1))
    FolderWriter(device_folder(shared, tablet.device_id)).put(sealed, Ending.BUNDLE)
    arguments = ("receive", shared, "--receipts", shared)
    for _ in range(3):
        assert run(monkeypatch, capsys, tmp_path, *arguments)[0] == 0
    assert len(list(shared.rglob(f"*{Ending.PHOTOGRAPHS}"))) == 1


def states(files):
    return [file["state"] for file in files]


def test_photographs_of_a_folder_wait_for_its_records_however_they_are_named(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    monkeypatch.setattr("exam_app.exchange.photographs.MOST_UNNAMED", 1)
    monkeypatch.setattr(folder_reading, "MOST_HELD", 1)
    root = tmp_path / "stick"
    sealed = photographs_on(root, tablet, *(picture(n) for n in range(3)))
    code, files = run(monkeypatch, capsys, tmp_path, "receive", root)
    assert (code, states(files)) == (4, ["received", "waits", "waits"])
    assert {file.get("error") for file in files} == {None, "UnnamedPhotographError"}
    # The record is read last of all.
    (root / "z.exam-bundle").write_bytes(sealed)
    code, files = run(monkeypatch, capsys, tmp_path, "receive", root)
    expected = ["received", "received before", "received", "received"]
    assert (code, states(files)) == (0, expected)


def test_photographs_given_as_files_wait_for_a_record_given_behind_them(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    monkeypatch.setattr("exam_app.exchange.photographs.MOST_UNNAMED", 0)
    root = tmp_path / "stick"
    sealed = photographs_on(root, tablet, picture(1))
    (tmp_path / "late.exam-bundle").write_bytes(sealed)
    (photograph,) = root.rglob(f"*{Ending.PHOTOGRAPH}")
    given = ("receive", photograph, tmp_path / "late.exam-bundle")
    code, files = run(monkeypatch, capsys, tmp_path, *given)
    assert (code, states(files)) == (0, ["received", "received"])


def test_photographs_received_before_are_said_and_not_read_again(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    root = tmp_path / "stick"
    photographs_on(root, tablet, picture(1), picture(2))
    code, files = run(monkeypatch, capsys, tmp_path, "receive", root)
    assert (code, states(files)) == (0, ["received"] * 2)
    with monkeypatch.context() as unread:
        unread.delattr(folder_reading, "_content")
        code, again = run(unread, capsys, tmp_path, "receive", root)
    assert (code, states(again)) == (0, ["received before"] * 2)
    assert {one["path"] for one in again} == {one["path"] for one in files}


def test_photographs_that_wait_in_the_spool_are_said(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    monkeypatch.setattr("exam_app.exchange.photographs.MOST_UNNAMED", 0)
    root = tmp_path / "stick"
    photographs_on(root, tablet, picture(1))
    for path in root.rglob(f"*{Ending.PHOTOGRAPH}"):
        spool(tmp_path / "clinic", path.read_bytes())
    code, files = run(monkeypatch, capsys, tmp_path, "receive", tablet.file)
    assert (code, states(files)) == (4, ["waits", "received"])
    assert len(list(spooled(tmp_path / "clinic"))) == 1


def test_a_photograph_that_the_spool_does_not_take_keeps_no_hand_over_out(
    closed_places, tmp_path, monkeypatch, capsys
):
    _, tablet = closed_places
    monkeypatch.setattr("exam_app.exchange.spool.MOST_BYTES_FOR_PHOTOGRAPHS", 0)
    root = tmp_path / "stick"
    photographs_on(root, tablet, picture(1))
    given = ("receive", root, tablet.file, "--spool")
    code, files = run(monkeypatch, capsys, tmp_path, *given, typed="")
    assert (code, states(files)) == (4, ["not spooled", "spooled"])
    ((_, waiting),) = spooled(tmp_path / "clinic")
    assert waiting == tablet.bundle.sealed
