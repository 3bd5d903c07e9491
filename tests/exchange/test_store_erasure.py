"""Erased owner details are gone from every corner, and do not come back in silence."""

import base64
import errno
import itertools
import json
from dataclasses import replace
from datetime import date

import pytest

from exam_app.app.clinic.notes import notes_beside
from exam_app.app.handover.outbox import bundles
from exam_app.app.queries.kept_records import read_kept
from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.visit import Presentation
from exam_app.domain.moments import Moment
from exam_app.exchange.day_pack import take_day_pack
from exam_app.exchange.erasing import (
    Erasing,
    NothingToEraseError,
    due,
    erase_owner,
    set_retention,
    what_would_go,
)
from exam_app.exchange.exchange import Exchange, delete_exams
from exam_app.exchange.outbox import mark_shown, take_receipt
from exam_app.exchange.returns import make_day_pack
from exam_app.exchange.spool import spool
from exam_app.record.plain_form import to_plain
from exam_app.record.records import read_exam, read_note
from exam_app.record.salted_blocks import owner_block
from exam_app.store.engine.files import open_file
from exam_app.store.engine.format import HEADER_LENGTH, is_index
from exam_app.store.engine.replay import frames
from exam_app.store.repositories.reports import Backup
from exam_app.store.repositories.rows import OpenExam
from exam_app.store.vault.folder import empty_torn
from sync.bundle.bundle import open_bundle
from sync.bundle.contents import Contents, OwnerPart
from tests.exam_samples import NOW, VETERINARIAN
from tests.handover_places import (
    DOG,
    LATER,
    animal,
    named_id,
    paired_places,
    small_exam,
)

OWNER = Owner(
    "Ottilie Quandt",
    "555 0199",
    "Nine Elm Row",
    {"e-mail": "quandt@example.invalid"},
)
WORDS = (b"Ottilie", b"Quandt", b"quandt", b"555 0199", b"Nine Elm", b"elm row")
BRAMBLE = animal("Bramble")
MUCH_LATER = Moment(LATER.utc_ms + 86_400_000, LATER.offset_min)
_numbers = itertools.count()


def erasing(at=MUCH_LATER, reason="requested"):
    return Erasing(VETERINARIAN, at, reason, lambda: named_id(f"e{next(_numbers)}"))


def erase(place, folder, animal_id=BRAMBLE.animal_id, **fields):
    return erase_owner(place.vault, folder, animal_id, erasing(**fields))


def unpacked(text):
    """Every text inside a document, and the bytes that stand in it as base 64."""
    if isinstance(text, dict):
        for key, inner in text.items():
            yield from unpacked(key)
            yield from unpacked(inner)
    elif isinstance(text, list):
        for inner in text:
            yield from unpacked(inner)
    elif isinstance(text, str):
        yield text.encode()
        try:
            yield base64.b64decode(text, validate=True)
        except ValueError:
            return


def documents(vault):
    """Every document as it is kept now."""
    for table, rows in (vault._storage.read() or {}).items():
        for key, document in rows.items():
            yield f"{table}/{key}", b"\n".join(unpacked(document))


def journal_pieces(vault):
    """Every head and every body of every frame that stands in the journal."""
    journal = vault._storage.journal()
    for frame in frames(journal.file, journal.keys, HEADER_LENGTH, journal.end):
        if is_index(frame.head):
            continue
        for line, offset in frame.lines():
            rows = [line.row]
            if line.tag:
                sealed = journal.file.read_at(offset, line.length)
                key = line.table, line.document_id
                rows.append(journal.keys.bodies.open(*key, sealed, line.tag))
            whole = b"".join(
                piece for row in rows if row for piece in unpacked(json.loads(row))
            )
            yield f"{frame.prefix.sequence}:{line.table}/{line.document_id}", whole


def naming(pieces):
    """Where one of the owner's words stands."""
    return [name for name, content in pieces if any(w in content for w in WORDS)]


def found(vault):
    return naming(documents(vault)), naming(journal_pieces(vault))


@pytest.fixture
async def places(tmp_path):
    devices = ("Tablet one", "Tablet two")
    async with paired_places(tmp_path, devices, opener=open_file) as opened:
        yield opened


def received(clinic, tablet, *exam_ids):
    (bundle,) = tablet.hand_over(*exam_ids)
    mark_shown(tablet.exchange, bundle.bundle_hash)
    taken = clinic.receive(bundle.sealed)
    take_receipt(tablet.exchange, taken.receipt)
    return bundle


def fill_device(clinic, tablet):
    """Owner words in every corner of a device."""
    vault = tablet.vault
    first = tablet.close_exam(small_exam("one", of=BRAMBLE), OWNER)
    received(clinic, tablet, first)
    second = tablet.close_exam(small_exam("two", of=BRAMBLE), OWNER)
    (waiting,) = tablet.hand_over(second)
    draft = replace(
        small_exam("three", of=BRAMBLE),
        presentation=Presentation("Ottilie Quandt", "limps", consent_by="Quandt"),
        closing=None,
    )
    vault.drafts.put(
        draft.exam_id,
        to_plain(draft),
        OpenExam(draft.exam_id, BRAMBLE.animal_id, "Bramble"),
    )
    typed = {"owner_name": "Ottilie Quandt-Elm", "breed": "mixed"}
    vault.typed.put(f"animal/{BRAMBLE.animal_id}", "Bramble", typed)
    vault.typed.put(
        f"{draft.exam_id}/presentation", "Why", {"presented_by": "Quandt", "x": "y"}
    )
    return first, second, draft.exam_id, waiting


async def test_owner_is_gone_from_every_corner_of_a_device(places, tmp_path):
    clinic, tablet, _ = places
    vault, folder = tablet.vault, tmp_path / "Tablet one"
    first, second, draft, waiting = fill_device(clinic, tablet)
    (folder / "vault.torn").write_bytes(b"half a save with an owner in it")
    corners, _ = found(vault)
    tables = {name.partition("/")[0] for name in corners}
    assert tables == {
        "animals",
        "owner_blocks",
        "animal_versions",
        "drafts",
        "typed_words",
    }
    before = [vault.closed.get(one) for one in (first, second)]
    said = erase(tablet, folder)
    assert found(vault)[0] == []
    assert not Exchange(vault).outgoing.get(waiting.bundle_hash).sealed
    # The files remember until they are written anew, and the result says so.
    assert found(vault)[1] != []
    vault.rewrite()
    await empty_torn(folder, open_file)
    assert found(vault) == ([], [])
    assert min((folder / name).stat().st_size for name in ("vault.a", "vault.b")) == 0
    assert (folder / "vault.torn").read_bytes() == b""
    assert [vault.closed.get(one) for one in (first, second)] == before
    assert "name, phone, address, other" in said.words
    assert "2 signed records; the signatures stay valid" in said.words
    assert "1 open exam: who brought the animal" in said.words
    kept = vault.drafts.get(draft)
    assert kept["presentation"]["complaint"] == "limps"
    assert vault.typed.all()[f"{draft}/presentation"] == ("Why", {"x": "y"})
    assert vault.animals.search("quandt") == []
    assert [one.name for one in vault.animals.search("bramble")] == ["Bramble"]


async def test_records_verify_afterwards_and_carry_a_signed_note_of_it(
    places, tmp_path
):
    clinic, tablet, _ = places
    first, second, _, _ = fill_device(clinic, tablet)
    erase(tablet, tmp_path / "Tablet one")
    keys = Exchange(tablet.vault).signing_keys()
    for exam_id in (first, second):
        signed = tablet.vault.closed.get(exam_id)
        read = read_exam(signed, keys, lambda _: DOG.protocol)
        assert read.owner_hash
        (about,) = tablet.vault.notes.for_exam(exam_id)
        note = read_note(about, keys).note
        assert note.exam_hash == door.sha256(signed).hex()
        assert note.erased == ("name", "phone", "address", "other")
        assert note.author == VETERINARIAN
        assert note.written == MUCH_LATER
        kept = read_kept(tablet.vault, exam_id)
        (shown,) = notes_beside(tablet.vault, kept)
        assert shown.heading.startswith("Owner details erased on a device: ")
        assert "Erased: name, phone, address, other" in shown.lines
        assert "The owner asked for it." in shown.lines
    (logged,) = Exchange(tablet.vault).erasures.all()
    assert (logged.by, logged.reason) == (
        VETERINARIAN.name,
        "The owner asked for it.",
    )
    with pytest.raises(NothingToEraseError):
        erase(tablet, tmp_path / "Tablet one")
    assert what_would_go(tablet.vault, BRAMBLE.animal_id) == ()


async def test_withdrawn_hand_over_goes_again_without_the_owner(places, tmp_path):
    clinic, tablet, _ = places
    _, second, _, waiting = fill_device(clinic, tablet)
    said = erase(tablet, tmp_path / "Tablet one")
    assert "Hand-over 2 was withdrawn" in said.words
    assert [one.sequence for one in bundles(tablet.vault)] == [1]
    (again,) = tablet.hand_over(second)
    assert again.sequence == 3
    key = clinic.vault.settings.get("agreement_key")
    content = open_bundle(again.sealed, key, lambda _: tablet_key(tablet)).contents
    assert content.owners == ()
    assert naming([("animals", json.dumps(list(content.animals)).encode())]) == []
    # The note of the erasure goes along, and a receipt for the old one is still taken.
    assert len(content.notes) == 2
    late = clinic.receive(waiting.sealed)
    take_receipt(tablet.exchange, late.receipt)


def tablet_key(place):
    return door.signing_public_key(place.seed)


def fill_clinic(clinic, tablet, other, folder):
    """Owner words in every corner of a clinic."""
    first = tablet.close_exam(small_exam("one", of=BRAMBLE), OWNER)
    received(clinic, tablet, first)
    # Both change the owner's phone: a clash for a person.
    for place, phone in ((clinic, "555 0199 (work)"), (tablet, "555 0199 (home)")):
        kept = place.vault.animals.get(BRAMBLE.animal_id)
        owner = {**kept["owner"], "phone": phone}
        place.vault.animals.put({**kept, "owner": owner})
    second = tablet.close_exam(small_exam("two", of=BRAMBLE))
    received(clinic, tablet, second)
    pack = make_day_pack(
        clinic.exchange, other.device_id, [BRAMBLE.animal_id], LATER, door.random_bytes
    )
    third = tablet.close_exam(small_exam("three", of=BRAMBLE))
    (late,) = tablet.hand_over(third)
    spool(folder, late.sealed)
    return first, second, third, pack


async def test_owner_is_gone_from_every_corner_of_a_clinic(places, tmp_path):
    clinic, tablet, other = places
    folder = tmp_path / "clinic"
    first, second, third, _ = fill_clinic(clinic, tablet, other, folder)
    assert any(name.startswith("clashes/") for name in found(clinic.vault)[0])
    clinic.vault.backups.keep(Backup("2026-11-20 08:00", "/media/stick", 9, 1))
    said = erase(clinic, folder)
    clinic.vault.rewrite()
    await empty_torn(folder, open_file)
    assert found(clinic.vault) == ([], [])
    assert list((folder / "spool").iterdir()) == []
    assert clinic.vault.closed.get(third) is not None
    assert "The backup of 2026-11-20 08:00: /media/stick." in said.held
    assert "The device “Tablet one”: erase there too." in said.held
    assert "The device “Tablet two”: erase there too." in said.held
    assert len(clinic.vault.notes.for_exam(first)) == 1
    assert len(clinic.vault.notes.for_exam(second)) == 1
    assert Exchange(clinic.vault).identity.clashes() == []


async def test_erased_owner_that_arrives_again_is_set_aside_and_said(places, tmp_path):
    clinic, tablet, _ = places
    folder = tmp_path / "clinic"
    first = tablet.close_exam(small_exam("one", of=BRAMBLE), OWNER)
    bundle = received(clinic, tablet, first)
    # Closed before the erasure, handed over after it.
    late = tablet.close_exam(small_exam("two", of=BRAMBLE))
    erase(clinic, folder)
    clinic.receive(bundle.sealed)
    assert found(clinic.vault)[0] == []
    assert Exchange(clinic.vault).erasures.set_aside() == []
    received(clinic, tablet, late)
    assert clinic.vault.closed.get(late) is not None
    assert found(clinic.vault)[0] == []
    (aside,) = Exchange(clinic.vault).erasures.set_aside()
    assert aside.animal_id == BRAMBLE.animal_id
    assert aside.device_id == tablet.device_id
    Exchange(clinic.vault).erasures.mark_read()
    assert Exchange(clinic.vault).erasures.set_aside() == []


async def test_same_owner_block_in_another_bundle_is_known_by_its_hash(
    places, tmp_path
):
    clinic, tablet, _ = places
    owner, salt = OWNER, bytes(range(32))
    exam = replace(small_exam("one", of=BRAMBLE))
    signed = tablet.sign(exam, owner, salt)
    part = OwnerPart(door.sha256(signed).hex(), salt, owner_block(owner))
    sealed = tablet.seal(clinic, Contents((signed,), owners=(part,)))
    clinic.receive(sealed)
    # Erased with a clock that is wrong by years: the date says nothing then.
    erase(clinic, tmp_path / "clinic", at=Moment(1_000_000_000_000, 0))
    clinic.vault.closed.remove(exam.exam_id)
    again = tablet.seal(clinic, Contents((signed,), owners=(part,)), 2)
    clinic.receive(again)
    assert clinic.vault.closed.get(exam.exam_id) == signed
    assert found(clinic.vault)[0] == []
    assert len(Exchange(clinic.vault).erasures.set_aside()) == 1


async def test_owner_of_a_later_visit_is_kept(places, tmp_path):
    clinic, tablet, _ = places
    first = tablet.close_exam(small_exam("one", of=BRAMBLE), OWNER)
    received(clinic, tablet, first)
    erase(clinic, tmp_path / "clinic", at=Moment(NOW.utc_ms - 1, 0))
    # The sample closes at NOW: after the erasure, so it is another visit.
    next_visit = tablet.close_exam(
        small_exam("two", of=BRAMBLE), replace(OWNER, name="Ada Finch")
    )
    received(clinic, tablet, next_visit)
    assert clinic.vault.owners.get(next_visit)[1]["name"] == "Ada Finch"
    assert clinic.vault.owners.get(first) is None
    assert clinic.vault.animals.get(BRAMBLE.animal_id)["owner"]["name"] == "Ada Finch"
    assert Exchange(clinic.vault).erasures.set_aside() == []


async def test_day_pack_does_not_bring_back_what_the_device_erased(places, tmp_path):
    clinic, tablet, _ = places
    first = tablet.close_exam(small_exam("one", of=BRAMBLE), OWNER)
    received(clinic, tablet, first)
    erase(tablet, tmp_path / "Tablet one")
    received(clinic, tablet)
    delete_exams(tablet.vault, [first])
    pack = make_day_pack(
        clinic.exchange,
        tablet.device_id,
        [BRAMBLE.animal_id],
        MUCH_LATER,
        door.random_bytes,
    ).sealed
    take_day_pack(tablet.exchange, pack, MUCH_LATER)
    assert tablet.vault.closed.get(first) is not None
    assert found(tablet.vault)[0] == []
    assert len(Exchange(tablet.vault).erasures.set_aside()) == 1


async def test_erasure_that_finds_no_room_erases_nothing(places, tmp_path, monkeypatch):
    clinic, tablet, _ = places
    fill_device(clinic, tablet)
    before = found(tablet.vault)[0]

    def full(*_):
        raise OSError(errno.ENOSPC, "the test's disk is full")

    journal = tablet.vault._storage.journal()
    monkeypatch.setattr(type(journal.file), "write_at", full)
    with pytest.raises(Exception, match="no room"):
        erase(tablet, tmp_path / "Tablet one")
    monkeypatch.undo()
    assert found(tablet.vault)[0] == before
    assert Exchange(tablet.vault).erasures.all() == []
    assert tablet.vault.notes.all() == []


async def test_what_is_due_is_listed_and_never_erased_by_itself(places):
    _, tablet, _ = places
    vault = tablet.vault
    tablet.close_exam(small_exam("one", of=BRAMBLE), OWNER)
    fern = animal("Fern")
    tablet.close_exam(small_exam("two", of=fern))
    day = NOW.local().date()
    vault.animals.put(
        {
            "animal_id": "c" * 32,
            "name": "Clover",
            "owner": {"name": "Ada", "version": 1},
        }
    )
    in_ten_years = date(day.year + 10, day.month, day.day)
    assert due(vault, in_ten_years) == ((), ())
    set_retention(vault, 10)
    dated, undated = due(vault, in_ten_years)
    assert [one.name for one in dated] == ["Bramble"]
    assert [one.name for one in undated] == ["Clover"]
    a_day_before = date.fromordinal(in_ten_years.toordinal() - 1)
    assert due(vault, a_day_before)[0] == ()
    # On a leap day the years before end on the 28th.
    set_retention(vault, 1)
    assert [one.name for one in due(vault, date(2096, 2, 29))[0]] == ["Bramble"]
    assert naming(documents(vault)) != []


async def test_animals_said_to_be_the_same_are_erased_together(places, tmp_path):
    _, tablet, _ = places
    vault, twin = tablet.vault, animal("Bramble two")
    tablet.close_exam(small_exam("one", of=BRAMBLE), OWNER)
    tablet.close_exam(small_exam("two", of=twin), OWNER)
    identity = Exchange(vault).identity
    identity.propose_join(BRAMBLE.animal_id, twin.animal_id, "chip", 1)
    (join,) = identity.joins()
    identity.decide_join(join.key, "same", "Alex", 2)
    erase(tablet, tmp_path / "Tablet one")
    assert found(vault)[0] == []
