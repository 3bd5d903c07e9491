"""The veterinarian's record on paper says what the record says, and nothing private."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exam_app.app.clinic.notes import keep_note, write_note
from exam_app.app.exam_words import signature_lines, signed_line
from exam_app.app.queries.kept_records import read_kept
from exam_app.app.signing import store_closed
from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.visit import Photo, PrivateNote
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.written_record import write_record
from exam_app.paper.printing import print_draft, print_record
from exam_app.paper.record import ATTENTION, VERIFY, RecordFacts, Signed, record_sheet
from exam_app.paper.sheet import PageSize
from exam_app.record.notes import NoteKind
from sync.trust.words import compared_words
from tests.exam_samples import BY, NOW, VETERINARIAN
from tests.generated_exams import SCOPES, SPECIES, begin, drive_on, finish
from tests.handover_places import new_place
from tests.past_exams import BRAMBLE, DOG, VISITS, exam_of, keep_visits
from tests.pictures import picture
from tests.printed import (
    SIZES,
    font,
    images_of,
    is_grey,
    missing,
    pages_by_pypdf,
    pages_of,
    squeezed,
    words_of,
)
from tests.samples import examples

SECRET = "zqprivatewordsqz"
SIGNED = Signed("Closed and signed.", "ab" * 32, b"q" * 16)
LARGEST = 150_000


def lines_of(written):
    yield written.title
    yield from written.headline
    for part in written.sections:
        yield part.heading
        yield from part.lines


def driven(species, scope, sex, seed, steps=25):
    """Make an exam by chance, closed where it can be, with a private note."""
    drive = begin(species, scope, sex, seed)
    drive_on(drive, steps)
    drive.exam = record_visit(drive.exam, PrivateNote(SECRET, drive.by()))
    return finish(drive) or drive.exam, drive.protocol


# What ``driven`` makes an exam from.
EXAMS = st.tuples(
    st.sampled_from(SPECIES),
    st.sampled_from(SCOPES),
    st.sampled_from(tuple(Sex)),
    st.integers(0, 2**32),
)


@pytest.mark.slow
@given(made=EXAMS, size=st.sampled_from(SIZES))
def test_every_line_of_the_record_is_on_paper_and_no_private_note(made, size):
    exam, protocol = driven(*made)
    written = write_record(exam, protocol)
    facts = RecordFacts(written, exam, protocol, SIGNED, practice="Invented · 555 0100")
    pdf = record_sheet(facts, size, font())
    assert missing([*lines_of(written), *SIGNED.lines, facts.practice], pdf) == []
    assert SECRET in str(exam)
    assert SECRET not in words_of(pdf)
    assert len(pdf) <= LARGEST


@pytest.mark.slow
@settings(max_examples=examples(24))
@given(made=EXAMS, size=st.sampled_from(SIZES))
def test_two_libraries_read_the_same_letters_off_a_sheet(made, size):
    # Captions beside one another in a drawing are read in another order.
    exam, protocol = driven(*made)
    facts = RecordFacts(write_record(exam, protocol), exam, protocol, SIGNED)
    pdf = record_sheet(facts, size, font())
    other = [sorted(squeezed(page)) for page in pages_by_pypdf(pdf)]
    assert [sorted(squeezed(page)) for page in pages_of(pdf)] == other != []


def test_what_presses_stands_first_and_all_is_black_and_white():
    exams = (driven("dog", Scope.TECHNICIAN, Sex.FEMALE, seed) for seed in range(20))
    exam, protocol = next(made for made in exams if made[0].urgent)
    written = write_record(exam, protocol)
    pdf = record_sheet(RecordFacts(written, exam, protocol), PageSize.A4, font())
    first = squeezed(pages_of(pdf)[0])
    order = [written.title, "URGENT:", ATTENTION, "Findings", "Vitals"]
    places = [first.index(squeezed(words)) for words in order]
    assert places == sorted(places)
    assert all(map(is_grey, images_of(pdf, 0.5)))


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_a_full_exam_takes_two_pages_at_most(size):
    for seed in range(6):
        exam, protocol = driven("dog", Scope.TECHNICIAN, Sex.FEMALE, seed, steps=12)
        written = write_record(exam, protocol)
        pdf = record_sheet(RecordFacts(written, exam, protocol, SIGNED), size, font())
        assert len(pages_of(pdf)) <= 2


@pytest.fixture
async def vault(tmp_path):
    place = await new_place(tmp_path / "device", "Tablet", "device")
    yield place.vault
    place.vault.close()


def test_record_is_printed_with_notes_signature_weights_and_photographs(vault):
    keep_visits(vault)
    content = picture(3)
    number = len(VISITS) - 1
    last = exam_of(VISITS[number], number)
    photo = Photo(
        vault.photographs.add(last.exam_id, content).sha256,
        "Left flank",
        attribution=BY,
    )
    late = replace(last, exam_id="e" * 32, photos=(photo,))
    with vault.transaction():
        store_closed(vault, late, DOG.protocol)
    kept = read_kept(vault, late.exam_id)
    said = "Rest it, and look again on Monday"
    note = write_note(NoteKind.ADDENDUM, kept, VETERINARIAN, NOW, "f" * 32, text=said)
    keep_note(vault, note)
    pdf = print_record(vault, kept, PageSize.A4, font())
    lines = (
        said,
        signed_line(kept.exam, "this device"),
        *signature_lines(kept.exam_hash, kept.key_id),
        VERIFY,
        "Weight over time",
        "In kg; dot: value",
        "Left flank",
        BRAMBLE.name,
    )
    assert missing(lines, pdf) == []
    assert content in pdf


def test_record_without_its_pictures_says_their_lines(vault):
    exam, protocol = driven("dog", Scope.TECHNICIAN, Sex.FEMALE, 5)
    assert exam.photos
    pdf = print_draft(vault, exam, protocol, PageSize.LETTER, font())
    assert missing(lines_of(write_record(exam, protocol)), pdf) == []
    assert b"/DCTDecode" not in pdf
    assert "notsigned" in squeezed(pages_of(pdf)[0])


@pytest.mark.reference
@pytest.mark.parametrize(
    ("entropy", "words"),
    # BIP-39, test vectors of the reference implementation (trezor/python-mnemonic),
    # the first six words of each: 66 bits of entropy, before any bit of the checksum.
    [
        ("00" * 16, "abandon abandon abandon abandon abandon abandon"),
        ("7f" * 16, "legal winner thank year wave sausage"),
        ("80" * 16, "letter advice cage absurd amount doctor"),
        ("ff" * 32, "zoo zoo zoo zoo zoo zoo"),
    ],
)
def test_six_words_hold_the_first_bits_of_a_hash_or_key(entropy, words):
    assert " ".join(compared_words(bytes.fromhex(entropy))) == words
