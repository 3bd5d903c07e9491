"""One continuation of a record at a time; what two of them answered is marked."""

import asyncio
from dataclasses import asdict, replace

import pytest

from exam_app.app.queries.record_chain import (
    chain_of,
    left_open,
    open_continuation,
    read_together,
    twice_words,
)
from exam_app.app.signing import store_closed
from exam_app.domain.exam.closing import close, continuation, stop_early
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.people import Attribution, Person
from exam_app.domain.exam.transitions import assert_no_abnormality
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import to_plain
from exam_app.store.repositories.rows import open_projection
from tests.clinic_and_device import opened_both, prepare_both
from tests.exam_samples import ANIMAL, BY, NOW, TECHNICIAN, new_exam

DOG = load_protocol("dog")


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    folder = tmp_path_factory.mktemp("prepared")
    asyncio.run(prepare_both(folder))
    return folder


@pytest.fixture
async def vault(prepared, tmp_path):
    async with opened_both(prepared, tmp_path) as (_, device):
        vault = device.vault
        vault.protocols.put(DOG.content_hash, DOG.content)
        yield vault


def stopped():
    exam = new_exam(
        animal=replace(ANIMAL, animal_id="9" * 32),
        protocol_id="dog",
        protocol_hash=DOG.content_hash,
        is_demo=True,
    )
    exam = stop_early(exam, DOG.protocol, StopReason.ESCAPED, "", BY)
    return close(exam, DOG.protocol, TECHNICIAN, NOW)


def continued(first, exam_id, person=TECHNICIAN):
    """Begin a continuation that has looked at the nose."""
    exam = continuation(first, DOG.protocol, exam_id, person, NOW)
    by = Attribution(person.person_id, person.person_id, NOW, NOW)
    return assert_no_abnormality(exam, DOG.protocol, ("nose",), person.role, by)


def closed_continuation(first, exam_id, person=TECHNICIAN):
    exam = continued(first, exam_id, person)
    by = Attribution(person.person_id, person.person_id, NOW, NOW)
    exam = stop_early(exam, DOG.protocol, StopReason.ESCAPED, "", by)
    return close(exam, DOG.protocol, person, NOW)


def put_draft(vault, exam):
    shown = open_projection(exam, DOG.protocol, NOW)
    vault.drafts.put(exam.exam_id, to_plain(exam), shown)


@pytest.mark.slow
async def test_a_record_has_one_open_continuation_and_it_is_found_again(vault):
    first = stopped()
    store_closed(vault, first, DOG.protocol)
    assert open_continuation(vault, first.exam_id) == ""
    put_draft(vault, continued(first, "1" * 32))
    assert open_continuation(vault, first.exam_id) == "1" * 32
    assert open_continuation(vault, "0" * 32) == ""


async def test_a_continuation_begun_by_an_earlier_version_is_found_too(vault):
    first = stopped()
    store_closed(vault, first, DOG.protocol)
    exam = continued(first, "1" * 32)
    row = asdict(open_projection(exam, DOG.protocol, NOW))
    del row["continues"]
    vault.drafts._table.put_last(exam.exam_id, {**row, "draft": to_plain(exam)})
    assert open_continuation(vault, first.exam_id) == "1" * 32


async def test_a_second_continuation_asks_only_for_what_both_left_open(vault):
    first = stopped()
    store_closed(vault, first, DOG.protocol)
    assert "nose" in left_open(chain_of(vault, first.exam_id))
    store_closed(vault, closed_continuation(first, "1" * 32), DOG.protocol)
    chain = chain_of(vault, first.exam_id)
    assert "nose" not in left_open(chain)
    view = read_together(chain)
    later = continuation(view, DOG.protocol, "2" * 32, TECHNICIAN, NOW)
    assert later.continues == first.exam_id
    assert "nose" not in later.open_keys
    assert twice_words(chain) == ""


async def test_what_two_continuations_answered_is_said_on_every_record(vault):
    first = stopped()
    store_closed(vault, first, DOG.protocol)
    colleague = Person("d" * 32, "Jo Wick", TECHNICIAN.role, "JW")
    store_closed(vault, closed_continuation(first, "1" * 32), DOG.protocol)
    store_closed(vault, closed_continuation(first, "2" * 32, colleague), DOG.protocol)
    for exam_id in (first.exam_id, "1" * 32, "2" * 32):
        words = twice_words(chain_of(vault, exam_id))
        assert words.startswith("Answered in two records of this chain: Nose.")
