"""What arrives is judged alike in a large store, and reads no more of it."""

import contextlib
import itertools

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import receive
from exam_app.exchange.incoming import Incoming
from exam_app.exchange.merge import marks_of
from exam_app.store.engine.tables import SealedTable
from sync.bundle.contents import Contents
from tests.handover_places import (
    NOW,
    animal,
    named_id,
    paired_places,
    small_exam,
)

SPECIES = "dog"
SAID = st.sampled_from(["", "Moss", "moss ", "M oss", "Fern"])
CHIPS = st.sampled_from(
    ["", "990000000000001", "990 000 000 000 001", "990000000000002"]
)
ANIMALS = st.builds(
    lambda number, name, chip, owner: {
        "animal_id": named_id(str(number)),
        "species": SPECIES,
        "name": name,
        "chip": chip,
        "owner": {"name": owner, "version": 1},
        "version": 1,
    },
    st.integers(0, 4),
    SAID,
    CHIPS,
    SAID,
)


@pytest.fixture
async def clinic(tmp_path):
    async with paired_places(tmp_path) as (place, _):
        yield place


def incoming(device, sequence, name):
    hashed, times = named_id(name) * 2, {"made_ms": 0, "received_ms": 0, "skew_ms": 0}
    return Incoming(
        bundle_hash=hashed,
        device_id=device,
        sequence=sequence,
        kind="exams",
        received="",
        **times,
    )


@contextlib.contextmanager
def undone(clinic):
    """Undo what is kept inside, as a save that failed does."""
    with contextlib.suppress(KeyError), clinic.vault.transaction():
        yield
        raise KeyError


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.lists(ANIMALS, max_size=8), ANIMALS, st.integers(0, 8))
def test_an_animal_is_compared_with_every_one_that_has_its_mark(clinic, put, asked, at):
    animals = clinic.vault.animals
    for place, one in enumerate(put):
        if place == at:
            animals.alike(asked)
        animals.put(one)
    kept = {one["animal_id"]: one for one in put}
    every = [animals.get(one.animal_id) for one in animals.all()]
    marked = {
        one["animal_id"]
        for one in every
        if not marks_of(one).keys().isdisjoint(marks_of(asked))
    }
    assert kept.keys() <= {one["animal_id"] for one in every}
    assert set(animals.alike(asked)) == marked


async def test_an_animal_whose_saving_failed_is_nobody_s_double(clinic):
    animals = clinic.vault.animals
    moss = {"animal_id": "a" * 32, "name": "Moss", "chip": "9", "version": 1}
    assert animals.alike(moss) == ()
    with undone(clinic):
        animals.put(moss)
    assert animals.alike(moss) == ()


EXAMPLES = itertools.count()
ASKED = st.tuples(
    st.sampled_from("ab"), st.integers(1, 6), st.integers(0, 9), st.booleans()
)


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.lists(ASKED, max_size=8))
def test_numbers_are_known_however_bundles_and_questions_take_turns(clinic, came):
    kept, example = {}, next(EXAMPLES)
    for one, sequence, name, is_asked in came:
        device = f"{one}{example}"
        # A bundle's hash is of its number too.
        row = incoming(device, sequence, f"{device} {sequence} {name}")
        Exchange(clinic.vault).incoming.put(row, b"")
        kept[row.bundle_hash] = (device, sequence)
        if is_asked:
            Exchange(clinic.vault).incoming.missing(device)
    found = Exchange(clinic.vault).incoming
    for device in (f"a{example}", f"b{example}"):
        numbers = {number for one, number in kept.values() if one == device}
        below = set(range(1, max(numbers, default=0)))
        assert found.missing(device) == tuple(sorted(below - numbers))
        for number in range(1, 7):
            bundles = {key for key, one in kept.items() if one == (device, number)}
            assert found.of_number(device, number) == bundles


async def test_a_number_that_waits_for_its_save_is_known_and_undone_with_it(clinic):
    found = clinic.exchange.incoming
    assert found.of_number("d", 7) == set()
    with undone(clinic):
        found.put(incoming("d", 7, "seven"), b"")
        assert found.of_number("d", 7) == {named_id("seven") * 2}
    assert found.of_number("d", 7) == set()


async def test_a_bundle_reads_no_more_of_a_clinic_that_has_received_many(
    tmp_path, monkeypatch
):
    """The number of rows that are read is counted, of every table."""
    read = []

    def counted(method):
        def call(self, *arguments):
            found = method(self, *arguments)
            read.append(len(found))
            return found

        return call

    async with paired_places(tmp_path) as (clinic, tablet):
        counts = []
        receive(sealed_day(clinic, tablet, 1), clinic.exchange, NOW)
        for name in ("rows", "rows_with", "newest", "everything"):
            method = counted(getattr(SealedTable, name))
            monkeypatch.setattr(SealedTable, name, method)
        for day in range(2, 22):
            read.clear()
            receive(sealed_day(clinic, tablet, day), clinic.exchange, NOW)
            counts.append(sum(read))
    assert counts[0] > 0
    assert set(counts) == {counts[0]}, counts


def sealed_day(clinic, tablet, day):
    exam = small_exam(f"exam {day}", of=animal(f"Bramble {day}", chip=f"9{day:014d}"))
    return tablet.seal(clinic, Contents((tablet.sign(exam),)), day)
