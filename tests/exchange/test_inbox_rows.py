"""Rows for lists and review, and what the store keeps of pairing."""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.crypto import door
from exam_app.domain.exam.region_states import Conclusion
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.intervals import Flag
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.pairings import Clinic, NotPairedError, OpenOffer
from exam_app.record.lineage import FormerKey, signing_keys_of
from exam_app.store.engine.documents import encode_document
from exam_app.store.repositories.rows import (
    ClosedExam,
    closed_projection,
    left_to_look,
    outside_ranges,
    read_closed_exam,
    urgency,
)
from tests.exam_samples import BY, NOW
from tests.handover_places import (
    DOG,
    named_bytes,
    named_id,
    new_place,
    pair,
    paired_places,
    small_exam,
)
from tests.record_samples import closed_exam


def signs(*kinds):
    """One sign for each list of answers."""
    return tuple(
        UrgentEntry(
            named_id(str(place)),
            "collapse",
            BY,
            answers=tuple(
                UrgentAnswer(kind, BY, "Dr Demo", "phone", NOW) for kind in of
            ),
        )
        for place, of in enumerate(kinds)
    )


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        ((), ""),
        (([AnswerKind.TOLD],), "urgent"),
        (([AnswerKind.AM_VETERINARIAN],), "urgent"),
        (([AnswerKind.TRIED],), "urgent not told"),
        (([AnswerKind.TRIED, AnswerKind.TOLD],), "urgent"),
        (([AnswerKind.TOLD], []), "urgent not told"),
        (([AnswerKind.TOLD], [AnswerKind.TRIED]), "urgent not told"),
    ],
)
def test_urgent_is_told_only_when_a_veterinarian_knows_of_every_sign(answers, expected):
    assert urgency(replace(small_exam("one"), urgent=signs(*answers))) == expected


def test_what_was_left_for_the_veterinarian_is_counted():
    exam = closed_exam(DOG.protocol, DOG.content_hash)
    assert left_to_look(exam) == 1
    key = next(iter(exam.regions))
    left = replace(
        exam.regions[key],
        conclusion=Conclusion.NOT_EXAMINED,
        reason="outside my training: for the veterinarian",
        findings=(),
    )
    other = replace(exam, regions={**exam.regions, key: left})
    assert left_to_look(other) == left_to_look(exam) + 1


@pytest.mark.parametrize(
    ("level", "counted"),
    [
        (FlagLevel.BELOW, 1),
        (FlagLevel.ABOVE, 1),
        (FlagLevel.NEAR_LOW, 0),
        (FlagLevel.NEAR_HIGH, 0),
        (FlagLevel.WITHIN, 0),
    ],
)
def test_only_what_lies_outside_a_published_range_is_counted(level, counted):
    flag = Flag(level, "as shown", (), (), unchecked=False)
    entry = VitalEntry(Reading("9", "kg", Decimal(9)), flag=flag, attribution=BY)
    assert (
        outside_ranges(replace(small_exam("one"), vitals={"weight": entry})) == counted
    )


def test_a_row_names_device_key_role_and_hash():
    key_id = bytes(16)
    row = closed_projection(small_exam("one"), DOG.protocol, "ab" * 32, "d1", key_id)
    assert (row.device_id, row.key_id, row.record_hash) == (
        "d1",
        "00" * 16,
        "ab" * 32,
    )
    assert (row.closed_role, row.gaps, row.urgency) == ("technician", 1, "")


# Older versions read the store, and the files of one store are compared by bytes.
OWN_ROW = [
    "animal_id",
    "name",
    "species",
    "scope",
    "title",
    "started",
    "closed",
    "closed_by",
    "closed_role",
    "person_id",
    "headline",
    "gaps",
    "is_urgent",
    "urgency",
    "to_look",
    "flags",
    "bite",
    "reactions",
    "setting",
    "continues",
    "group_exam",
    "hash",
    "device_id",
    "key_id",
    "is_demo",
]
REVISED = ["revision", "parent_hash"]
CAME = ["is_received", "received", *REVISED]


@pytest.mark.parametrize(
    ("fields", "kept"),
    [
        ({}, []),
        ({"revision": 1, "parent_hash": "cd"}, REVISED),
        ({"is_received": True}, CAME),
        ({"is_received": True, "revision": 1}, [*CAME, "is_fork"]),
        ({"is_received": True, "is_fork": True}, [*CAME, "is_fork"]),
    ],
)
def test_a_row_is_stored_under_the_names_and_in_the_order_of_every_version(
    fields, kept
):
    row = closed_projection(small_exam("one"), DOG.protocol, "ab" * 32, "d1", bytes(16))
    shown = replace(row, **fields)
    stored = shown.to_row()
    assert list(stored) == [*OWN_ROW, *kept, "exam_id"]
    assert read_closed_exam(encode_document(stored)) == shown


def test_what_a_row_of_an_earlier_version_lacks_is_as_in_an_exam_without_it():
    early = {"exam_id": "e1", "gaps": ["eyes.left", "tail"], "later": "unknown"}
    shown = read_closed_exam(encode_document(early))
    assert shown == ClosedExam(exam_id="e1", gaps=2)
    assert shown.reactions is None


async def test_offers_come_and_go_and_a_device_counts_once_confirmed(
    tmp_path, each_store
):
    async with paired_places(tmp_path, register=each_store) as (clinic, tablet):
        pairing = Exchange(clinic.vault).pairing
        offer = OpenOffer(b"\xab" * 16, b"\xcd", 5)
        pairing.put_offer(offer)
        assert pairing.offers() == [offer]
        pairing.drop_offer(offer.token)
        assert pairing.offers() == []
        other = replace(
            Exchange(tablet.vault).own_device(),
            device_id=named_id("other"),
            signing_key=door.signing_public_key(named_bytes("other")),
            state="words shown",
        )
        key_id = door.sha256(other.signing_key)[:16]
        pairing.put_device(other)
        assert pairing.device_of_key(key_id) is None
        pairing.put_device(replace(other, state="paired"))
        assert pairing.device_of_key(key_id).device_id == other.device_id
        assert (
            len(pairing.devices()) == len(Exchange(clinic.vault).pairing.devices()) == 2
        )
        pairing.revoke_device("never there", 0, 0, "Dr Demo")
        assert len(pairing.devices()) == 2


async def test_a_device_hands_over_only_to_a_confirmed_clinic(
    tmp_path,
):
    place = await new_place(tmp_path, "Tablet", "field")
    pairing = Exchange(place.vault).pairing
    assert pairing.clinic() is None
    keys = {"signing_key": b"\x11" * 32, "agreement_key": b"\x22" * 32}
    shown = Clinic(clinic_id="c", **keys, state="words shown")
    pairing.put_clinic(shown)
    assert pairing.clinic() is None
    with pytest.raises(NotPairedError):
        pairing.confirmed_clinic()
    pairing.put_clinic(replace(shown, state="paired"))
    assert pairing.confirmed_clinic().clinic_id == "c"
    place.vault.close()


async def test_records_of_known_devices_stay_readable_when_one_is_revoked(
    tmp_path, each_store
):
    async with paired_places(tmp_path, register=each_store) as (clinic, tablet):
        key = door.signing_public_key(tablet.seed)
        exchange = Exchange(clinic.vault)
        assert key in exchange.signing_keys()
        exchange.pairing.revoke_device(tablet.device_id, 0, 0, "Dr Demo")
        assert key in exchange.signing_keys()
        pair(clinic, tablet, state="words shown")
        assert key not in exchange.signing_keys()
        clinic.vault.closed.acknowledge("never there", "ab", "Dr Demo")
        exchange.decide_clash("never there", "keep ours", "Dr Demo", 0)


def test_a_former_key_that_is_no_key_ends_the_line():
    public, agreement = door.signing_public_key(named_bytes("seed")), b"\x22" * 32
    former = FormerKey("f" * 32, bytes(32), bytes(64), agreement)
    assert signing_keys_of(public, agreement, [former]) == (public,)
