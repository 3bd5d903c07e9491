"""The invented practice at both sides: corrected, continued, handed over."""

from decimal import Decimal

from exam_app.app.clinic.imports import import_sealed
from exam_app.app.exam_sessions import new_id, now
from exam_app.app.queries.kept_records import read_kept
from exam_app.app.signing import store_closed
from exam_app.crypto.door import random_bytes
from exam_app.domain.exam.closing import close, continuation, stop_early
from exam_app.domain.exam.corrections import (
    begin_correction,
    close_correction,
)
from exam_app.domain.exam.exam import Exam, StopReason
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import set_remark
from exam_app.domain.exam.vital_transitions import MOST_SIGNS, record_vital
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outbox import hand_over
from exam_app.exchange.protocols import protocol_by_hash
from exam_app.record.plain_form import from_plain
from tests.clinic_and_device import PASSPHRASE, new_session, prepare_both


async def worked_on(folder):
    """Correct and continue records of the device, and hand everything over."""
    await prepare_both(folder)
    clinic, device = new_session(folder / "clinic"), new_session(folder / "device")
    for session in (clinic, device):
        await session.open_with_passphrase(PASSPHRASE)
    records = list(records_of(device.vault))
    correct(device.vault, next(one for one in records if has_weight(one.exam)))
    for kept in records:
        go_on(device.vault, kept)
    outbox = Exchange(device.vault)
    ids = [row.exam_id for row, _ in outbox.not_handed_over()]
    for made in hand_over(outbox, ids, now(), random_bytes):
        answered = import_sealed(clinic.vault, made.sealed, now())
        assert answered.received is not None, answered.problem
    return clinic, device


def has_weight(exam):
    return exam.vital("weight").reading is not None


def closer_of(exam):
    return exam.person(exam.closing.closed_by)


def by_closer(exam):
    person_id = closer_of(exam).person_id
    return Attribution(person_id, person_id, now(), now())


def correct(vault, kept):
    """Sign a record anew with another weight and a remark."""
    by, protocol = by_closer(kept.exam), kept.loaded.protocol
    draft = begin_correction(kept.exam, kept.exam_hash, "misread the scale", by)
    entry = VitalEntry(reading=Reading("3.21", "kg", Decimal("3.21")))
    ids = tuple(new_id() for _ in range(MOST_SIGNS))
    draft = record_vital(draft, protocol, "weight", entry, by, ids)
    key = next(iter(draft.regions))
    draft = set_remark(draft, protocol, key, "seen in daylight")
    exam = close_correction(draft, kept.exam, protocol, closer_of(kept.exam), now())
    assert exam.corrections
    store_closed(vault, exam, protocol)


def go_on(vault, kept):
    """Close a continuation of what a record left open, stopped early at once."""
    protocol = kept.loaded.protocol
    exam = continuation(kept.exam, protocol, new_id(), closer_of(kept.exam), now())
    if not exam.open_keys:
        return
    by = by_closer(kept.exam)
    exam = stop_early(exam, protocol, StopReason.ESCAPED, "over the fence", by)
    store_closed(vault, close(exam, protocol, closer_of(kept.exam), now()), protocol)


def records_of(vault):
    for row in vault.closed.everything():
        yield read_kept(vault, row.exam_id, row.record_hash)


def drafts_of(vault):
    for row in vault.drafts.open():
        exam = from_plain(Exam, vault.drafts.get(row.exam_id))
        yield exam, protocol_by_hash(vault, exam.protocol_hash).protocol
