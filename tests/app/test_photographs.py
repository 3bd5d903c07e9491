"""Photographs added to an open exam, shown, waited for, laid beside earlier ones."""

from dataclasses import replace

import pytest

from exam_app.app.exam_sessions import open_exam
from exam_app.app.photographs import (
    described,
    keep_picture,
    let_go,
    named_in,
    photograph_space,
    space_words,
    taken_out,
)
from exam_app.app.signing import store_closed
from exam_app.app.view.photograph_presenter import (
    earlier_of_same,
    shown_photographs,
    waiting_words,
)
from exam_app.domain.errors import (
    ExamClosedError,
    PhotographTwiceError,
    TooManyPhotographsError,
    UnknownItemError,
)
from exam_app.domain.exam.closing import stop_early
from exam_app.domain.exam.exam import Closing, StopReason
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.photographs import MOST_PHOTOS, add_photo, known_photo
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.exam.visit import Photo
from exam_app.domain.moments import Moment
from exam_app.record.errors import BadSignatureError, NotAPhotographError
from exam_app.store.engine.files import Room
from exam_app.store.engine.picture_files import PictureFolder
from exam_app.store.errors import NoRoomForPhotographError, VaultError
from exam_app.store.repositories.photographs import ROOM_FOR_ANSWERS, PhotographSpace
from tests.app.test_discarding import BY, DOG, EXAM, EXAM_ID, FOUND, session  # noqa: F401
from tests.exam_samples import NOW, TECHNICIAN
from tests.own_place import Place
from tests.pictures import HEIGHT, WIDTH, hash_of, picture

NOSE = Photo("", "the crusts, from the front", "nose")


@pytest.fixture
async def editor(session):  # noqa: F811
    return await open_exam(session, EXAM_ID)


async def add(session, editor, content, shows, seen=None):  # noqa: F811
    """Keep a picture and name it in the exam, as the screen does."""
    row = await keep_picture(session, editor.exam.exam_id, content)
    await editor.apply(named_in(row, shows), "Photograph added", seen)
    return known_photo(editor.exam, row.sha256)


async def test_a_photograph_is_kept_named_saved_and_undone_as_one_step(session, editor):  # noqa: F811
    seen = Moment(NOW.utc_ms - 600_000, NOW.offset_min)
    photo = await add(session, editor, picture(1), NOSE, seen)
    assert photo == replace(
        NOSE,
        sha256=hash_of(picture(1)),
        width=WIDTH,
        height=HEIGHT,
        size=len(picture(1)),
        attribution=photo.attribution,
    )
    assert photo.attribution.observed == seen
    assert photo.attribution.entered_by == TECHNICIAN.person_id
    assert session.vault.drafts.get(EXAM_ID)["photos"][0]["sha256"] == photo.sha256
    (shown,) = shown_photographs(session.vault, editor.exam, editor.protocol)
    assert (shown.is_here, shown.mark) == (True, 0)
    assert shown.title == "Nose: the crusts, from the front"
    assert await editor.undo() == "Photograph added"
    assert not editor.exam.photos
    await editor.redo()
    assert session.vault.photographs.get(photo.sha256) == picture(1)


async def test_what_is_refused_leaves_the_exam_as_it_was(session, editor, monkeypatch):  # noqa: F811
    await add(session, editor, picture(1), NOSE)
    before = editor.exam
    with pytest.raises(PhotographTwiceError):
        await add(session, editor, picture(1), NOSE)
    with pytest.raises(NotAPhotographError):
        await add(session, editor, b"no picture", NOSE)
    with pytest.raises(UnknownItemError):
        await add(session, editor, picture(2), Photo("", "", "wing"))
    with monkeypatch.context() as full:
        full.setattr(PictureFolder, "left", lambda _: ROOM_FOR_ANSWERS)
        with pytest.raises(NoRoomForPhotographError):
            await add(session, editor, picture(3), NOSE)
    assert editor.exam == before
    editor.exam = replace(
        before, photos=tuple(Photo(f"{n:064x}") for n in range(MOST_PHOTOS))
    )
    with pytest.raises(TooManyPhotographsError):
        await add(session, editor, picture(4), NOSE)
    editor.exam = replace(before, closing=Closing(TECHNICIAN.person_id, NOW))
    with pytest.raises(ExamClosedError):
        await add(session, editor, picture(4), NOSE)


async def test_a_photograph_is_described_anew_and_taken_out(session, editor):  # noqa: F811
    photo = await add(session, editor, picture(1), NOSE)
    said = replace(photo, caption="", key="", finding_id=FOUND.finding_id)
    await editor.apply(described(said))
    (shown,) = shown_photographs(session.vault, editor.exam, editor.protocol)
    assert shown.title == "Nose: no caption, shows redness"
    await editor.apply(taken_out(photo.sha256))
    assert not editor.exam.photos
    # It may be taken back, so the picture stays until the exam is closed.
    assert session.vault.photographs.has(photo.sha256)


def closed(exam):
    return stop_early(exam, DOG.protocol, StopReason.ESCAPED, "", BY)


def sign(vault, exam):
    done = closed(replace(exam, people=(TECHNICIAN,)))
    done = replace(done, closing=Closing(TECHNICIAN.person_id, NOW))
    store_closed(vault, done, DOG.protocol)
    return done


async def test_a_closed_exam_keeps_the_pictures_it_names_and_no_other(session, editor):  # noqa: F811
    kept = await add(session, editor, picture(1), NOSE)
    gone = await add(session, editor, picture(2), NOSE)
    await editor.apply(taken_out(gone.sha256))
    sign(session.vault, editor.exam)
    assert session.vault.photographs.has(kept.sha256)
    assert not session.vault.photographs.has(gone.sha256)


async def test_a_record_says_how_many_of_its_photographs_wait(session, editor):  # noqa: F811
    photo = await add(session, editor, picture(1), NOSE)
    vault, exam = session.vault, editor.exam
    assert waiting_words(vault, exam) == ""
    others = [hash_of(picture(n)) for n in (2, 3)]
    exam = add_photo(exam, DOG.protocol, Photo(others[0], "one"))
    assert waiting_words(vault, exam) == "1 photograph waits"
    exam = add_photo(exam, DOG.protocol, Photo(others[1], "two"))
    assert waiting_words(vault, exam) == "2 photographs wait"
    here = [one.is_here for one in shown_photographs(vault, exam, DOG.protocol)]
    assert here == [True, False, False]
    vault.photographs.add(EXAM_ID, picture(2))
    vault.photographs.add(EXAM_ID, picture(3))
    assert waiting_words(vault, exam) == ""
    assert vault.photographs.get(photo.sha256) == picture(1)


async def test_an_earlier_photograph_of_the_same_find_is_laid_beside(session):  # noqa: F811
    vault = session.vault
    shown = Photo(hash_of(picture(1)), "then", finding_id=FOUND.finding_id)
    vault.photographs.add(EXAM_ID, picture(1))
    first = sign(vault, add_photo(EXAM, DOG.protocol, shown))
    again = Finding("2" * 32, "redness", BY, same_as=FOUND.finding_id)
    later = replace(
        EXAM,
        exam_id="f" * 32,
        regions={"nose": RegionEntry(findings=(again,))},
        started=Moment(NOW.utc_ms + 1_000, NOW.offset_min),
    )
    now = Photo(hash_of(picture(2)), "now", finding_id=again.finding_id)
    later = add_photo(later, DOG.protocol, now)
    (beside,) = earlier_of_same(vault, later, later.photos[0])
    assert (beside.exam_id, beside.is_here) == (first.exam_id, True)
    assert beside.title == "Nose: then, shows redness"
    assert not earlier_of_same(vault, later, Photo("a" * 64, "the whole animal"))


async def test_room_is_said_in_words(session, editor):  # noqa: F811
    await add(session, editor, picture(1, 300_000), NOSE)
    space = await photograph_space(session)
    assert (space.count, space.used) == (1, len(picture(1, 300_000)))
    words = space_words(replace(space, left=5_000_000))
    assert words == "1 photograph kept here, 300 kB. Room for at least 3 more."
    assert space_words(replace(space, left=1_000)).endswith(
        "No room is left for another; answers go on being saved."
    )
    assert space_words(PhotographSpace(0, 0, None)) == "0 photographs kept here, 0 kB."


async def test_a_place_of_its_own_is_asked_for_its_room(session, monkeypatch):  # noqa: F811
    noted = []
    monkeypatch.setattr(session.vault.photographs, "note_left", noted.append)
    for answer in (Room(used=30, most=100), Room(used=None, most=100), Room()):
        session.opener = Place(answer)
        await photograph_space(session)
    assert noted == [70, None, None]


async def test_a_dropped_correction_lets_go_of_its_pictures_and_of_no_other(session):  # noqa: F811
    vault = session.vault
    for number in (1, 2):
        vault.photographs.add(EXAM_ID, picture(number))
    first = Photo(hash_of(picture(1)), "then", "nose")
    sign(vault, add_photo(EXAM, DOG.protocol, first))
    # What the closed exam does not name went at its closing.
    assert not vault.photographs.has(hash_of(picture(2)))
    vault.photographs.add(EXAM_ID, picture(3))
    let_go(vault, EXAM_ID)
    assert vault.photographs.has(first.sha256)
    assert not vault.photographs.has(hash_of(picture(3)))
    let_go(vault, "0" * 32)
    assert vault.photographs.get(first.sha256) == picture(1)


@pytest.mark.parametrize(
    "failing",
    [
        "exam_app.store.repositories.photographs.Photographs.rows",
        "exam_app.app.photographs.record_reader",
        "exam_app.store.engine.picture_files.PictureFolder.remove",
    ],
)
async def test_a_disk_that_fails_after_the_signing_fails_no_signing(
    session,  # noqa: F811
    editor,
    monkeypatch,
    failing,
):
    vault = session.vault
    gone = await add(session, editor, picture(2), NOSE)
    await editor.apply(taken_out(gone.sha256))

    def fail(*_):
        raise OSError("the test's disk") if "remove" in failing else VaultError

    monkeypatch.setattr(failing, fail)
    sign(vault, editor.exam)
    # As in dropping a correction, which is dropped then too.
    let_go(vault, EXAM_ID)
    monkeypatch.undo()
    assert vault.drafts.get(EXAM_ID) is None
    assert len(vault.closed.revisions(EXAM_ID)) == 1


async def test_nothing_is_let_go_of_while_a_record_cannot_be_read(session, monkeypatch):  # noqa: F811
    vault = session.vault
    vault.photographs.add(EXAM_ID, picture(1))
    sign(vault, add_photo(EXAM, DOG.protocol, Photo(hash_of(picture(1)), "then")))

    def unread(*_):
        raise BadSignatureError

    monkeypatch.setattr("exam_app.app.queries.kept_records.read_exam", unread)
    let_go(vault, EXAM_ID)
    assert vault.photographs.get(hash_of(picture(1))) == picture(1)
