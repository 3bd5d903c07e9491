"""Photographs from a device to its clinic, in any order, once, and told of."""

from dataclasses import replace

import pytest

from exam_app.app.clinic.imports import (
    import_sealed,
    look_into_folder,
    receiving_of,
)
from exam_app.app.clinic.shared_folder import FOLDER
from exam_app.app.handover import arrivals
from exam_app.app.handover.arrivals import take
from exam_app.app.handover.photographs import (
    put_photographs,
    to_send_words,
)
from exam_app.app.view.photograph_presenter import waiting_words
from exam_app.crypto import door
from exam_app.domain.exam.visit import Photo
from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import delete_exams
from exam_app.exchange.photographs import (
    UnnamedPhotographError,
    list_for,
    photographs_for,
    receive_photograph,
    sealed_photograph,
    signed_list,
    take_list,
    take_photograph,
    to_hand_over,
)
from exam_app.exchange.returns import make_day_pack, records_for
from exam_app.exchange.spool import import_spool, spool
from exam_app.register.pictures import RegisterPictures
from exam_app.store.engine.picture_files import PictureFolder
from exam_app.store.errors import (
    ExamStillNeededError,
    PhotographMissingError,
    VaultError,
)
from exam_app.store.repositories.photographs import ROOM_FOR_ANSWERS
from sync.errors import (
    BadManifestError,
    DemoRefusedError,
    NotAReceiptError,
    ReceiptForgedError,
    RevokedDeviceError,
    UnknownDeviceError,
    WrongRecipientError,
)
from sync.photographs import PhotographLabel, seal_photograph
from sync.transport.folder import Ending, FolderWriter, clinic_folder, device_folder
from tests.handover_places import (
    LATER,
    agreement_key,
    new_place,
    pair,
    paired_places,
)
from tests.photographed_places import (
    close_with,
    photographed,
    read,
    receive_exams,
    sealed_of,
)
from tests.pictures import hash_of, picture

ONE, TWO = picture(1, 3_000), picture(2, 4_000)


@pytest.fixture
async def places(tmp_path, each_store):
    async with paired_places(tmp_path, register=each_store) as (clinic, tablet):
        yield clinic, tablet


def list_of(clinic, at=LATER):
    (device,) = clinic.exchange.pairing.trusted()
    return signed_list(clinic.exchange, list_for(clinic.exchange, device, at))


async def test_the_record_says_what_waits_until_it_has_come(places):
    clinic, tablet = places
    exam_id = close_with(tablet, "one", ONE, TWO)
    receive_exams(clinic, tablet, exam_id)
    exam = read(clinic, exam_id)
    assert waiting_words(clinic.vault, exam) == "2 photographs wait"
    (device,) = clinic.exchange.pairing.trusted()
    assert len(list_for(clinic.exchange, device, LATER).wanted) == 2
    first, second = sealed_of(tablet)
    came = receive_photograph(first, clinic.exchange)
    assert (came.is_named, came.was_known) == (True, False)
    assert waiting_words(clinic.vault, exam) == "1 photograph waits"
    receive_photograph(second, clinic.exchange)
    assert waiting_words(clinic.vault, exam) == ""
    assert clinic.vault.photographs.get(hash_of(ONE)) == ONE
    assert not list_for(clinic.exchange, device, LATER).wanted


async def test_a_photograph_before_its_record_is_shown_once_that_is_there(places):
    clinic, tablet = places
    exam_id = close_with(tablet, "one", ONE)
    (sealed,) = sealed_of(tablet)
    came = receive_photograph(sealed, clinic.exchange)
    assert not came.is_named
    assert [row.sha256 for row in clinic.vault.photographs.unnamed()] == [hash_of(ONE)]
    # Nothing is promised for what no record names.
    assert list_for(clinic.exchange, came.device, LATER).held == ()
    receive_exams(clinic, tablet, exam_id)
    assert waiting_words(clinic.vault, read(clinic, exam_id)) == ""
    assert not clinic.vault.photographs.unnamed()
    assert list_for(clinic.exchange, came.device, LATER).held == (hash_of(ONE),)


async def test_the_same_photograph_is_kept_once_however_often_it_comes(places):
    clinic, tablet = places
    receive_exams(clinic, tablet, close_with(tablet, "one", ONE))
    (sealed,) = sealed_of(tablet)
    first, again = (receive_photograph(sealed, clinic.exchange) for _ in "12")
    assert (first.was_known, again.was_known) == (False, True)
    assert clinic.vault.photographs.space().count == 1


async def test_a_record_received_by_an_earlier_version_takes_its_photograph(
    places, monkeypatch
):
    clinic, tablet = places
    exam_id = close_with(tablet, "one", ONE)
    # It knew nothing of photographs that are awaited.
    monkeypatch.setattr(type(clinic.vault.photographs), "expect", lambda *_, **__: None)
    receive_exams(clinic, tablet, exam_id)
    assert clinic.vault.photographs.rows() == []
    assert waiting_words(clinic.vault, read(clinic, exam_id)) == "1 photograph waits"
    (sealed,) = sealed_of(tablet)
    assert receive_photograph(sealed, clinic.exchange).is_named
    assert waiting_words(clinic.vault, read(clinic, exam_id)) == ""


async def test_photographs_travel_in_no_bundle(places):
    _, tablet = places
    exam_id = close_with(tablet, "one", picture(5, 300_000))
    assert sum(len(bundle.sealed) for bundle in tablet.hand_over(exam_id)) < 3_000


async def test_only_photographs_of_closed_exams_that_wait_are_handed_over(places):
    clinic, tablet = places
    tablet.vault.photographs.add("0" * 32, picture(9))
    assert to_send_words(tablet.vault) == ""
    exam_id = close_with(tablet, "one", ONE, TWO)
    assert [r.sha256 for r in to_hand_over(tablet.exchange)] == [
        hash_of(ONE),
        hash_of(TWO),
    ]
    assert to_send_words(tablet.vault) == (
        "2 photographs go by folder or file, not by codes."
    )
    receive_exams(clinic, tablet, exam_id)
    receive_photograph(sealed_of(tablet)[0], clinic.exchange)
    said = take_list(tablet.exchange, list_of(clinic))
    assert (said.held, said.wanted) == ((hash_of(ONE),), (hash_of(TWO),))
    assert [r.sha256 for r in to_hand_over(tablet.exchange)] == [hash_of(TWO)]


async def test_a_photograph_added_in_a_correction_waits_until_that_is_signed(places):
    _, tablet = places
    vault, exam = tablet.vault, photographed("one", ONE)
    exam_id = close_with(tablet, "one", ONE)
    vault.drafts.put(exam_id, {"exam_id": exam_id})
    vault.photographs.add(exam_id, TWO)
    # What the record itself names goes on.
    assert [r.sha256 for r in to_hand_over(tablet.exchange)] == [hash_of(ONE)]
    (row,) = vault.closed.revisions(exam_id)
    photos = (*exam.photos, Photo(hash_of(TWO), "a demo ear", "ears"))
    signed = replace(exam, revision=1, parent_hash=row.record_hash, photos=photos)
    tablet.close_exam(signed)
    both = [hash_of(ONE), hash_of(TWO)]
    assert [r.sha256 for r in to_hand_over(tablet.exchange)] == both


async def test_a_label_gives_a_photograph_no_exam_whose_record_does_not_name_it(places):
    clinic, tablet = places
    exam_id = close_with(tablet, "one", ONE)
    other_id = close_with(tablet, "two", TWO)
    receive_exams(clinic, tablet, exam_id, other_id)
    for claimed in ("e" * 32, other_id):
        label = PhotographLabel(
            tablet.device_id,
            agreement_key(clinic.vault),
            hash_of(ONE),
            len(ONE),
            claimed,
            is_demo=True,
        )
        came = receive_photograph(
            seal_photograph(label, ONE, tablet.seed), clinic.exchange
        )
        assert came.is_named
        assert clinic.vault.photographs.row(hash_of(ONE)).exam_ids == (exam_id,)


async def test_each_device_whose_record_names_a_photograph_is_told_of_it(
    tmp_path, each_store
):
    names = ("Tablet one", "Tablet two", "Tablet three")
    async with paired_places(tmp_path, names, register=each_store) as (
        clinic,
        first,
        second,
        third,
    ):
        for tablet, name in ((first, "one"), (second, "two")):
            receive_exams(clinic, tablet, close_with(tablet, name, ONE))
        trusted = clinic.exchange.pairing.trusted()
        devices = {one.device_id: one for one in trusted}

        def said(tablet):
            return list_for(clinic.exchange, devices[tablet.device_id], LATER)

        assert said(first).wanted == said(second).wanted == (hash_of(ONE),)
        receive_photograph(sealed_of(first)[0], clinic.exchange)
        assert said(first).held == said(second).held == (hash_of(ONE),)
        assert said(third).held == said(third).wanted == ()
        take_list(second.exchange, signed_list(clinic.exchange, said(second)))
        assert not to_hand_over(second.exchange)


async def test_what_the_clinic_lost_is_asked_for_and_offered_again(places):
    clinic, tablet = places
    receive_exams(clinic, tablet, close_with(tablet, "one", ONE))
    receive_photograph(sealed_of(tablet)[0], clinic.exchange)
    held = list_of(clinic)
    take_list(tablet.exchange, held)
    assert not to_hand_over(tablet.exchange)
    photographs = clinic.vault.photographs
    photographs._files.remove(photographs._keys().name(hash_of(ONE)))
    later = Moment(LATER.utc_ms + 1_000, LATER.offset_min)
    take_list(tablet.exchange, list_of(clinic, later))
    assert [r.sha256 for r in to_hand_over(tablet.exchange)] == [hash_of(ONE)]
    # The list of before, read once more, promises nothing.
    take_list(tablet.exchange, held)
    assert len(to_hand_over(tablet.exchange)) == 1


async def test_a_list_of_another_clinic_or_for_another_device_changes_nothing(
    places, tmp_path
):
    clinic, tablet = places
    receive_exams(clinic, tablet, close_with(tablet, "one", ONE))
    receive_photograph(sealed_of(tablet)[0], clinic.exchange)
    (device,) = clinic.exchange.pairing.trusted()
    said = list_for(clinic.exchange, device, LATER)
    other = await new_place(tmp_path / "other", "Other", "clinic")
    wrong = (
        (signed_list(other.exchange, said), ReceiptForgedError),
        (
            signed_list(clinic.exchange, replace(said, device_id="7" * 32)),
            NotAReceiptError,
        ),
        (
            signed_list(clinic.exchange, replace(said, is_demo=False)),
            NotAReceiptError,
        ),
    )
    for signed, refusal in wrong:
        with pytest.raises(refusal):
            take_list(tablet.exchange, signed)
    assert len(to_hand_over(tablet.exchange)) == 1
    other.vault.close()


async def test_an_exam_stays_on_its_device_until_its_photographs_arrived(places):
    clinic, tablet = places
    exam_id = close_with(tablet, "one", ONE)
    for bundle in tablet.hand_over(exam_id):
        receipt = clinic.receive(bundle.sealed).receipt
        assert take(tablet.vault, receipt).is_taken
    with pytest.raises(ExamStillNeededError):
        delete_exams(tablet.vault, [exam_id])
    receive_photograph(sealed_of(tablet)[0], clinic.exchange)
    arrived = take(tablet.vault, list_of(clinic))
    assert arrived.words == "The clinic holds 1 photograph."
    delete_exams(tablet.vault, [exam_id])
    assert tablet.vault.photographs.rows() == []
    with pytest.raises(PhotographMissingError):
        tablet.vault.photographs.get(hash_of(ONE))
    assert clinic.vault.photographs.get(hash_of(ONE)) == ONE


def may_be_deleted(clinic, tablet, *exam_ids):
    for bundle in tablet.hand_over(*exam_ids):
        assert take(tablet.vault, clinic.receive(bundle.sealed).receipt).is_taken
    for sealed in sealed_of(tablet):
        receive_photograph(sealed, clinic.exchange)
    assert take(tablet.vault, list_of(clinic)).is_taken


async def test_exams_that_could_not_be_deleted_keep_their_photographs(
    places, monkeypatch
):
    clinic, tablet = places
    alone = picture(3)
    first = close_with(tablet, "one", ONE, alone)
    second = close_with(tablet, "two", ONE, TWO)
    may_be_deleted(clinic, tablet, first, second)
    vault, before = tablet.vault, tablet.vault.photographs.rows()

    def fail(exam_id):
        if exam_id == second:
            raise VaultError

    monkeypatch.setattr(vault.privates, "drop", fail)
    with pytest.raises(VaultError):
        delete_exams(vault, [first, second])
    assert vault.photographs.rows() == before
    for one in (ONE, TWO, alone):
        assert vault.photographs.get(hash_of(one)) == one
    monkeypatch.undo()
    delete_exams(vault, [first, second])
    assert vault.photographs.rows() == []


async def test_a_deletion_cut_off_leaves_no_row_and_its_files_go_later(
    places, monkeypatch
):
    clinic, tablet = places
    exam_ids = [close_with(tablet, "one", ONE), close_with(tablet, "two", TWO)]
    may_be_deleted(clinic, tablet, *exam_ids)
    vault = tablet.vault

    def refuse(*_):
        raise OSError("the test's disk")

    monkeypatch.setattr(PictureFolder, "remove", refuse)
    # What stays is told.
    with pytest.raises(VaultError):
        delete_exams(vault, exam_ids)
    monkeypatch.undo()
    assert vault.photographs.rows() == []
    assert [vault.closed.get(exam_id) for exam_id in exam_ids] == [None, None]
    vault.rewrite()
    assert not vault.photographs._files.names()


async def test_a_stranger_a_demo_and_a_false_sender_are_refused(places, tmp_path):
    clinic, _ = places
    stranger = await new_place(tmp_path / "s", "Stranger", "field")
    key, content = agreement_key(clinic.vault), picture(8)
    label = PhotographLabel(
        stranger.device_id, key, hash_of(content), len(content), "e" * 32, is_demo=True
    )
    with pytest.raises(UnknownDeviceError):
        receive_photograph(
            seal_photograph(label, content, stranger.seed), clinic.exchange
        )
    pair(clinic, stranger)
    real = replace(label, is_demo=False)
    with pytest.raises(DemoRefusedError):
        receive_photograph(
            seal_photograph(real, content, stranger.seed), clinic.exchange
        )
    assert clinic.vault.photographs.rows() == []
    stranger.vault.close()


async def test_a_revoked_device_brings_only_what_a_record_names(places):
    clinic, tablet = places
    receive_exams(clinic, tablet, close_with(tablet, "one", ONE))
    close_with(tablet, "two", TWO)
    named, unnamed = sealed_of(tablet)
    clinic.exchange.pairing.revoke_device(tablet.device_id, 1, LATER.utc_ms, "Dr Mar")
    assert receive_photograph(named, clinic.exchange).is_named
    with pytest.raises(RevokedDeviceError):
        receive_photograph(unnamed, clinic.exchange)
    assert not clinic.vault.photographs.has(hash_of(TWO))


async def test_photographs_that_no_record_names_are_kept_so_many_and_no_more(
    places, monkeypatch
):
    clinic, tablet = places
    monkeypatch.setattr("exam_app.exchange.photographs.MOST_UNNAMED", 2)
    close_with(tablet, "one", *(picture(n) for n in range(3)))
    first, second, third = sealed_of(tablet)
    for sealed in (first, second, first):
        receive_photograph(sealed, clinic.exchange)
    with pytest.raises(UnnamedPhotographError):
        receive_photograph(third, clinic.exchange)
    answered = import_sealed(clinic.vault, third, LATER)
    assert answered.problem.startswith("No record here names this photograph")


async def test_a_full_clinic_refuses_a_photograph_and_stores_the_record(
    places, monkeypatch
):
    clinic, tablet = places
    exam_id = close_with(tablet, "one", ONE)
    sealed = sealed_of(tablet)
    for pictures in (PictureFolder, RegisterPictures):
        monkeypatch.setattr(pictures, "left", lambda _: ROOM_FOR_ANSWERS)
    receive_exams(clinic, tablet, exam_id)
    answered = import_sealed(clinic.vault, sealed[0], LATER)
    assert answered.photograph is None
    assert answered.problem.startswith("There is too little space")
    assert waiting_words(clinic.vault, read(clinic, exam_id)) == "1 photograph waits"


async def test_a_photograph_damaged_on_the_device_holds_up_no_other(places, tmp_path):
    _, tablet = places
    close_with(tablet, "one", ONE, TWO)
    photographs = tablet.vault.photographs
    photographs._files.write(photographs._keys().name(hash_of(ONE)), b"damaged")
    whole = photographs.row(hash_of(TWO))
    assert sealed_of(tablet) == [sealed_photograph(tablet.exchange, whole)]


async def test_all_of_it_by_a_folder_and_the_list_comes_back(places, tmp_path):
    clinic, tablet = places
    root = tmp_path / "shared"
    root.mkdir()
    clinic.vault.settings.put(FOLDER, str(root))
    exam_id = close_with(tablet, "one", ONE, TWO)
    assert put_photographs(tablet.vault, root) == 2
    assert put_photographs(tablet.vault, root) == 2
    own = device_folder(root, tablet.device_id)
    assert len(list(own.iterdir())) == 2
    looked = look_into_folder(clinic.vault, LATER)
    assert all(one.photograph and not one.photograph.is_named for one in looked)
    assert receiving_of(clinic.vault).photograph_words(clinic.vault) == (
        "2 photographs came. 2 of them will be shown once the record is here."
    )
    back = clinic_folder(root, clinic.device_id, tablet.device_id)
    assert not back.exists()
    (bundle,) = tablet.hand_over(exam_id)
    (own / f"{bundle.bundle_hash}.exam-bundle").write_bytes(bundle.sealed)
    (exams,) = look_into_folder(clinic.vault, LATER)
    assert exams.received is not None
    assert look_into_folder(clinic.vault, LATER) == ()
    (told,) = back.glob("*.exam-photographs")
    assert take(tablet.vault, told.read_bytes()).is_taken
    assert to_send_words(tablet.vault) == ""
    assert take(tablet.vault, told.read_bytes()).words == (
        "The clinic holds 2 photographs."
    )


async def test_photographs_wait_in_the_spool_with_the_hand_overs(places, tmp_path):
    clinic, tablet = places
    exam_id = close_with(tablet, "one", ONE)
    folder = tmp_path / "clinic"
    for sealed in (*sealed_of(tablet), tablet.hand_over(exam_id)[0].sealed):
        spool(folder, sealed)
    report = import_spool(clinic.vault, folder, LATER)
    assert len(report.received) == len(report.photographs) == 1
    assert not report.refused
    assert waiting_words(clinic.vault, read(clinic, exam_id)) == ""


async def test_a_day_packs_pictures_go_back_by_folder_to_another_device(
    tmp_path, each_store
):
    async with paired_places(
        tmp_path, ("Tablet one", "Tablet two"), register=each_store
    ) as (
        clinic,
        first,
        second,
    ):
        exam_id = close_with(first, "one", ONE, TWO)
        receive_exams(clinic, first, exam_id)
        receive_photograph(sealed_of(first)[0], clinic.exchange)
        animals = [read(clinic, exam_id).animal.animal_id]
        back = list(photographs_for(clinic.exchange, second.device_id, animals))
        assert len(back) == 1
        assert take(second.vault, back[0]).words.startswith("A photograph; it will be")
        assert [r.sha256 for r in second.vault.photographs.unnamed()] == [hash_of(ONE)]
        pack = make_day_pack(
            clinic.exchange, second.device_id, animals, LATER, door.random_bytes
        )
        assert take(second.vault, pack.sealed).is_taken
        exam = read(second, exam_id)
        assert waiting_words(second.vault, exam) == "1 photograph waits"
        assert second.vault.photographs.get(hash_of(ONE)) == ONE
        assert take(second.vault, back[0]).words == "A photograph of an earlier record."
        # What came from there is nobody's to hand over or to answer for.
        assert not to_hand_over(second.exchange)
        assert second.vault.photographs.space().count == 1
        # It is sealed to one device, by the clinic alone.
        with pytest.raises(WrongRecipientError):
            take_photograph(first.exchange, back[0])
        clinic.exchange.pairing.revoke_device(second.device_id, 1, LATER.utc_ms, "Mar")
        assert not list(photographs_for(clinic.exchange, second.device_id, animals))


def put_back(clinic, device, root, animals):
    place = clinic_folder(root, clinic.device_id, device.device_id)
    for sealed in photographs_for(clinic.exchange, device.device_id, animals):
        FolderWriter(place).put(sealed, Ending.PHOTOGRAPH)
    return place


async def test_photographs_of_a_folder_crowd_nothing_out_of_what_was_taken(
    places, tmp_path, monkeypatch
):
    clinic, tablet = places
    monkeypatch.setattr(arrivals, "_MOST_TAKEN", 2)
    exam_id = close_with(tablet, "one", *(picture(n) for n in range(4)))
    (bundle,) = tablet.hand_over(exam_id)
    receipt = clinic.receive(bundle.sealed).receipt
    for sealed in sealed_of(tablet):
        receive_photograph(sealed, clinic.exchange)
    animals = [read(clinic, exam_id).animal.animal_id]
    root = tmp_path / "between"
    root.mkdir()
    place = put_back(clinic, tablet, root, animals)
    FolderWriter(place).put(receipt, Ending.RECEIPT)
    arrivals.look(tablet.vault, root)
    said = " ".join(arrivals.arrival_words(tablet.vault))
    assert "4 of them" in said
    assert "Signed receipt" in said
    assert len(tablet.vault.settings.get(arrivals.TAKEN)) == 1
    arrivals.look(tablet.vault, root)
    assert arrivals.NOTHING_NEW in arrivals.arrival_words(tablet.vault)[0]


async def test_one_picture_of_two_exams_goes_back_once_and_is_taken_once(
    tmp_path, monkeypatch, each_store
):
    async with paired_places(
        tmp_path, ("Tablet one", "Tablet two"), register=each_store
    ) as (
        clinic,
        first,
        second,
    ):
        ids = [close_with(first, name, ONE) for name in ("one", "two")]
        receive_exams(clinic, first, *ids)
        receive_photograph(sealed_of(first)[0], clinic.exchange)
        animals = [read(clinic, ids[0]).animal.animal_id]
        root = tmp_path / "between"
        root.mkdir()
        place = put_back(clinic, second, root, animals)
        assert len(list(place.iterdir())) == 1
        (newest,) = records_for(clinic.exchange, animals)
        by_other = sorted(ids, key=lambda one: one == newest.exam_id)
        # As on another day: both exams, and the other one in its label.
        monkeypatch.setattr(
            "exam_app.exchange.photographs.records_for",
            lambda *_: [read(clinic, one) for one in by_other],
        )
        put_back(clinic, second, root, animals)
        assert len(list(place.iterdir())) == 2
        sealed = photographs_for(clinic.exchange, second.device_id, animals)
        assert len(list(sealed)) == 1
        arrivals.look(second.vault, root)
        arrivals.look(second.vault, root)
        assert arrivals.NOTHING_NEW in arrivals.arrival_words(second.vault)[0]


async def test_a_picture_that_no_clinic_of_this_device_sealed_is_refused(
    places, tmp_path
):
    clinic, tablet = places
    other = await new_place(tmp_path / "other", "Other", "clinic")
    content = picture(8)
    label = PhotographLabel(
        other.device_id,
        agreement_key(tablet.vault),
        hash_of(content),
        len(content),
        "e" * 32,
        is_demo=True,
    )
    with pytest.raises(UnknownDeviceError):
        take_photograph(tablet.exchange, seal_photograph(label, content, other.seed))
    with pytest.raises(BadManifestError):
        take_photograph(tablet.exchange, seal_photograph(label, content, clinic.seed))
    real = replace(label, device_id=clinic.device_id, is_demo=False)
    with pytest.raises(DemoRefusedError):
        take_photograph(tablet.exchange, seal_photograph(real, content, clinic.seed))
    assert tablet.vault.photographs.rows() == []
    other.vault.close()
