"""Closing an exam into the store: signed, kept and read back, or nothing at all."""

from pathlib import Path

import pytest

from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.queries.kept_records import read_kept
from exam_app.app.session import Session, SetUp
from exam_app.app.signing import store_closed
from exam_app.crypto import door
from exam_app.crypto.door import DerivationBounds, KeyDerivation
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.exam import Exam, StopReason
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import load_protocol
from exam_app.record.errors import BadSignatureError, ExamNotClosedError, RecordError
from exam_app.record.plain_form import to_plain
from exam_app.record.records import read_exam
from exam_app.record.salted_blocks import block_matches, owner_block
from exam_app.store.repositories.rows import open_projection
from tests.exam_samples import ANIMAL, NOW, TECHNICIAN

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
BOUNDS = DerivationBounds(CHEAP, KeyDerivation())
PASSPHRASE = "four quiet words here"
DOG = load_protocol("dog")
EXAM_ID = "e" * 32


def new_session(folder: Path) -> Session:
    return Session(folder, CHEAP, BOUNDS)


def open_exam() -> Exam:
    order = ExamOrder(ANIMAL, Scope.FOCUSED, Setting.CLINIC, ("nose",))
    return begin_exam(order, DOG.protocol, DOG.content_hash, TECHNICIAN, EXAM_ID, NOW)


def closed_exam() -> Exam:
    by = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NOW, NOW)
    stopped = stop_early(open_exam(), DOG.protocol, StopReason.ESCAPED, "", by)
    return close(stopped, DOG.protocol, TECHNICIAN, NOW)


@pytest.fixture
async def session(tmp_path):
    """A set-up session with a device key, one animal and one draft."""
    made = new_session(tmp_path)
    answers = SetUp("field", "Invented", "", PASSPHRASE, TECHNICIAN, "4321")
    await made.set_up(answers)
    exam, vault = open_exam(), made.vault
    with vault.transaction():
        vault.protocols.put(DOG.content_hash, DOG.content)
        vault.animals.put(to_plain(ANIMAL))
        shown = open_projection(exam, DOG.protocol, NOW)
        vault.drafts.put(EXAM_ID, to_plain(exam), shown)
    yield made
    made.close()


@pytest.fixture
def vault(session):
    """The store of that session."""
    return session.vault


async def test_a_closed_exam_leaves_the_drafts_and_reads_back_as_it_was(vault):
    exam = closed_exam()
    store_closed(vault, exam, DOG.protocol)
    assert vault.drafts.get(EXAM_ID) is None
    kept = read_kept(vault, EXAM_ID)
    assert kept is not None
    assert kept.exam == exam
    assert kept.loaded.content_hash == DOG.content_hash


async def test_a_closed_exam_is_there_after_the_store_was_opened_again(
    session, tmp_path
):
    store_closed(session.vault, closed_exam(), DOG.protocol)
    session.close()
    again = new_session(tmp_path)
    await again.open_with_passphrase(PASSPHRASE)
    kept = read_kept(again.vault, EXAM_ID)
    rows = again.vault.closed.latest(5)
    again.close()
    assert kept is not None
    assert kept.exam == closed_exam()
    assert [row.exam_id for row in rows] == [EXAM_ID]


async def test_the_list_shows_the_headline_and_the_hash_of_the_signed_bytes(vault):
    store_closed(vault, closed_exam(), DOG.protocol)
    (row,) = vault.closed.latest(1)
    assert row.closed_by == TECHNICIAN.name
    assert "Stopped early: escaped" in row.headline
    assert row.gaps == 1
    signed = vault.closed.get(EXAM_ID)
    assert signed is not None
    assert row.record_hash == door.sha256(signed).hex()


async def test_an_open_exam_is_not_signed_and_its_draft_stays(vault):
    with pytest.raises(ExamNotClosedError):
        store_closed(vault, open_exam(), DOG.protocol)
    assert vault.drafts.get(EXAM_ID) is not None
    assert vault.closed.get(EXAM_ID) is None


async def test_owner_details_stand_beside_the_record_and_match_its_hash(vault):
    owner = Owner("Ada Invented", "555 0199")
    plain = {**to_plain(ANIMAL), "owner": to_plain(owner)}
    vault.animals.put(plain)
    store_closed(vault, closed_exam(), DOG.protocol)
    signed, beside = vault.closed.get(EXAM_ID), vault.owners.get(EXAM_ID)
    assert signed is not None
    assert beside is not None
    assert b"Ada Invented" not in signed
    public = door.signing_public_key(vault.settings.get("signing_key"))
    read = read_exam(signed, [public], lambda _: DOG.protocol)
    assert block_matches(read.owner_hash, beside[0], owner_block(owner))
    assert not block_matches(
        read.owner_hash, beside[0], owner_block(Owner("Someone Else"))
    )


async def test_a_record_of_another_device_is_not_read_as_ones_own(vault):
    store_closed(vault, closed_exam(), DOG.protocol)
    vault.settings.put("signing_key", door.new_signing_key())
    with pytest.raises(RecordError):
        read_kept(vault, EXAM_ID)


async def test_a_record_with_one_flipped_bit_is_not_shown(vault):
    store_closed(vault, closed_exam(), DOG.protocol)
    signed = vault.closed.get(EXAM_ID)
    assert signed is not None
    public = door.signing_public_key(vault.settings.get("signing_key"))
    middle = len(signed) // 2
    broken = signed[:middle] + bytes([signed[middle] ^ 1]) + signed[middle + 1 :]
    with pytest.raises(BadSignatureError):
        read_exam(broken, [public], lambda _: DOG.protocol)


async def test_an_exam_that_was_never_closed_here_is_no_record(vault):
    assert read_kept(vault, "f" * 32) is None
