"""Photographs whose record has not come, or that find no room: they wait."""

from dataclasses import replace

import pytest

from exam_app.app.clinic.imports import (
    import_sealed,
    import_waiting,
    look_into_folder,
    receiving_of,
    take_in_spool,
)
from exam_app.app.clinic.shared_folder import FOLDER
from exam_app.app.handover import arrivals
from exam_app.crypto import door
from exam_app.exchange.photographs import photographs_for, receive_photograph
from exam_app.exchange.returns import make_day_pack
from exam_app.exchange.spool import import_spool, spool, spooled
from exam_app.store.engine.picture_files import PictureFolder
from exam_app.store.errors import VaultFullError
from exam_app.store.repositories.photographs import ROOM_FOR_ANSWERS
from sync.transport import folder_reading
from sync.transport.folder import Ending, FolderWriter, clinic_folder, device_folder
from sync.transport.folder_reading import TRY_AGAIN_MS
from tests.handover_places import LATER, paired_places
from tests.photographed_places import close_with, read, receive_exams, sealed_of
from tests.pictures import picture

THREE = [picture(number) for number in range(3)]


@pytest.fixture
async def places(tmp_path, monkeypatch):
    monkeypatch.setattr("exam_app.exchange.photographs.MOST_UNNAMED", 1)
    async with paired_places(tmp_path) as (clinic, tablet):
        yield clinic, tablet


@pytest.fixture
def root(tmp_path):
    folder = tmp_path / "shared"
    folder.mkdir()
    return folder


def count_of(place):
    return place.vault.photographs.space().count


def put_into(root, clinic, tablet):
    """Write three photographs into the folder; give the hand-over that names them."""
    clinic.vault.settings.put(FOLDER, str(root))
    exam_id = close_with(tablet, "one", *THREE)
    writer = FolderWriter(device_folder(root, tablet.device_id))
    for sealed in sealed_of(tablet):
        writer.put(sealed, Ending.PHOTOGRAPH)
    (bundle,) = tablet.hand_over(exam_id)
    return bundle.sealed


async def test_records_of_a_folder_are_taken_before_its_photographs(places, root):
    clinic, tablet = places
    sealed = put_into(root, clinic, tablet)
    # Its name has no hash and is offered last.
    (root / "z.exam-bundle").write_bytes(sealed)
    first, *others = look_into_folder(clinic.vault, LATER)
    assert first.received is not None
    assert [one.photograph.is_named for one in others] == [True] * 3
    assert not receiving_of(clinic.vault).look.put_off


async def test_photographs_of_a_folder_wait_for_their_record_and_are_not_refused(
    places, root, monkeypatch
):
    clinic, tablet = places
    sealed, receiving = put_into(root, clinic, tablet), receiving_of(clinic.vault)
    (kept,) = look_into_folder(clinic.vault, LATER)
    assert kept.photograph is not None
    assert receiving.answered == {}
    assert receiving.photograph_words(clinic.vault) == (
        "1 photograph came. 1 of them will be shown once the record is here. "
        "2 photographs wait in the folder for their records or for room."
    )
    with monkeypatch.context() as unread:
        unread.delattr(folder_reading, "_content")
        assert look_into_folder(clinic.vault, LATER) == ()
    assert receiving.look.put_off == 2
    assert not receiving.look.waiting
    # By a code, not by the folder.
    assert import_sealed(clinic.vault, sealed, LATER).received is not None
    assert len(look_into_folder(clinic.vault, LATER)) == 2
    assert count_of(clinic) == 3
    assert receiving.photograph_words(clinic.vault) == "3 photographs came."


async def test_photographs_without_room_are_tried_again_after_a_while(
    places, root, monkeypatch
):
    clinic, tablet = places
    (root / "z.exam-bundle").write_bytes(put_into(root, clinic, tablet))
    with monkeypatch.context() as full:
        full.setattr(PictureFolder, "left", lambda _: ROOM_FOR_ANSWERS)
        (answered,) = look_into_folder(clinic.vault, LATER)
        assert answered.received is not None
    assert look_into_folder(clinic.vault, LATER) == ()
    later = replace(LATER, utc_ms=LATER.utc_ms + TRY_AGAIN_MS)
    assert len(look_into_folder(clinic.vault, later)) == 3
    assert count_of(clinic) == 3


async def test_photographs_opened_as_files_are_taken_with_the_record_behind_them(
    places,
):
    clinic, tablet = places
    exam_id = close_with(tablet, "one", *THREE)
    receiving = receiving_of(clinic.vault)
    for sealed in sealed_of(tablet):
        receiving.waiting.append(sealed)
        import_waiting(clinic.vault, LATER)
    assert count_of(clinic) == 1
    assert [one.waits for one in receiving.answered.values()] == [True, True]
    (bundle,) = tablet.hand_over(exam_id)
    receiving.waiting.append(bundle.sealed)
    assert len(import_waiting(clinic.vault, LATER)) == 3
    assert count_of(clinic) == 3
    # Nothing says any more that they were refused.
    (only,) = receiving.answered.values()
    assert only.received is not None
    assert (receiving.waiting, receiving.later) == ([], [])


async def test_photographs_kept_for_later_fill_no_memory(places, monkeypatch):
    clinic, tablet = places
    monkeypatch.setattr("exam_app.app.clinic.imports.MOST_HELD", 0)
    close_with(tablet, "one", *THREE)
    receiving = receiving_of(clinic.vault)
    receiving.waiting.extend(sealed_of(tablet))
    import_waiting(clinic.vault, LATER)
    assert len(receiving.later) == 1


def sent_back(clinic, first, second):
    """Give a day pack for the second device, sealed, and the pictures beside it."""
    exam_id = close_with(first, "one", *THREE)
    receive_exams(clinic, first, exam_id)
    for sealed in sealed_of(first):
        receive_photograph(sealed, clinic.exchange)
    animals = [read(clinic, exam_id).animal.animal_id]
    pack = make_day_pack(
        clinic.exchange, second.device_id, animals, LATER, door.random_bytes
    )
    pictures = photographs_for(clinic.exchange, second.device_id, animals)
    return pack.sealed, list(pictures)


@pytest.fixture
async def two_tablets(tmp_path, monkeypatch):
    monkeypatch.setattr("exam_app.exchange.photographs.MOST_UNNAMED", 1)
    names = ("Tablet one", "Tablet two")
    async with paired_places(tmp_path, names) as (clinic, first, second):
        yield clinic, second, *sent_back(clinic, first, second)


async def test_a_device_takes_a_day_pack_before_the_photographs_chosen_with_it(
    two_tablets,
):
    _, second, pack, pictures = two_tablets
    arrivals.keep_arrived(second.vault, [*pictures, pack])
    assert count_of(second) == 3
    said = " ".join(arrivals.arrival_words(second.vault))
    assert f"{arrivals.PICTURE_CAME} 3 of them." in said


async def test_a_devices_photographs_wait_in_the_folder_for_their_day_pack(
    two_tablets, root, monkeypatch
):
    clinic, second, pack, pictures = two_tablets
    writer = FolderWriter(clinic_folder(root, clinic.device_id, second.device_id))
    for sealed in pictures:
        writer.put(sealed, Ending.PHOTOGRAPH)
    for _ in range(2):
        arrivals.look(second.vault, root)
        said = " ".join(arrivals.arrival_words(second.vault))
        assert "2 photographs wait in the folder" in said
        assert "was not kept" not in said
    writer.put(pack, Ending.DAY_PACK)
    arrivals.look(second.vault, root)
    arrivals.look(second.vault, root)
    assert count_of(second) == 3
    said = " ".join(arrivals.arrival_words(second.vault))
    assert "in the folder" not in said


async def test_what_waits_in_the_spool_is_tried_once_a_hand_over_came(
    places, tmp_path, monkeypatch
):
    clinic, tablet = places
    folder, receiving = tmp_path / "clinic", receiving_of(clinic.vault)
    exam_id = close_with(tablet, "one", *THREE)
    for sealed in sealed_of(tablet):
        spool(folder, sealed)
    for _ in range(2):
        take_in_spool(clinic.vault, folder, LATER)
        assert len(list(spooled(folder))) == 2
        assert receiving.spool == (
            "2 photographs that came while the exams were locked wait for their "
            "records or for room.",
        )
    with monkeypatch.context() as unread:
        unread.delattr("exam_app.exchange.spool.receive_photograph")
        take_in_spool(clinic.vault, folder, LATER)
    (bundle,) = tablet.hand_over(exam_id)
    assert import_sealed(clinic.vault, bundle.sealed, LATER).received is not None
    take_in_spool(clinic.vault, folder, LATER)
    assert (count_of(clinic), list(spooled(folder))) == (3, [])
    assert receiving.spool == ()


async def test_records_of_the_spool_are_taken_before_its_photographs(places, tmp_path):
    clinic, tablet = places
    folder = tmp_path / "clinic"
    exam_id = close_with(tablet, "one", *THREE)
    (bundle,) = tablet.hand_over(exam_id)
    for sealed in (*sealed_of(tablet), bundle.sealed):
        spool(folder, sealed)
    report = import_spool(clinic.vault, folder, LATER)
    assert [one.is_named for one in report.photographs] == [True] * 3
    assert (report.waiting, report.refused) == ((), ())


async def test_a_photograph_that_is_none_of_this_clinic_leaves_the_spool(
    places, tmp_path
):
    clinic, tablet = places
    folder = tmp_path / "clinic"
    close_with(tablet, "one", THREE[0])
    (sealed,) = sealed_of(tablet)
    spool(folder, sealed[:-1] + bytes([sealed[-1] ^ 1]))
    report = import_spool(clinic.vault, folder, LATER)
    assert (len(report.refused), report.waiting) == (1, ())
    assert len(list((folder / "spool").glob("*.refused"))) == 1
    assert list(spooled(folder)) == []


async def test_photographs_in_the_spool_keep_room_for_hand_overs(
    places, tmp_path, monkeypatch
):
    _, tablet = places
    exam_id = close_with(tablet, "one", *THREE)
    first, second, _ = sealed_of(tablet)
    (bundle,) = tablet.hand_over(exam_id)
    most = len(first) + len(second) - 1
    monkeypatch.setattr("exam_app.exchange.spool.MOST_BYTES_FOR_PHOTOGRAPHS", most)
    spool(tmp_path, first)
    with pytest.raises(VaultFullError):
        spool(tmp_path, second)
    spool(tmp_path, bundle.sealed)
    assert len(list(spooled(tmp_path))) == 2
