"""What a clinic writes into the shared folder: its lists of photographs."""

import pytest

from exam_app.app.clinic import shared_folder
from exam_app.app.clinic.imports import import_sealed, look_into_folder
from exam_app.app.clinic.shared_folder import FOLDER, tell_of_photographs
from exam_app.app.handover.arrivals import take
from sync.errors import FolderError
from sync.photographs import read_list
from sync.transport.folder import Ending, FolderWriter, clinic_folder, device_folder
from tests.handover_places import LATER, paired_places
from tests.photographed_places import close_with, receive_exams, sealed_of
from tests.pictures import hash_of, picture

ONE = picture(1, 3_000)


@pytest.fixture
async def places(tmp_path):
    async with paired_places(tmp_path) as (clinic, tablet):
        yield clinic, tablet


@pytest.fixture
def root(tmp_path):
    folder = tmp_path / "shared"
    folder.mkdir()
    return folder


def lists(clinic, device, root):
    place = clinic_folder(root, clinic.device_id, device.device_id)
    return sorted(place.glob(f"*{Ending.PHOTOGRAPHS}"))


async def test_a_list_is_written_once_into_each_folder_and_again_where_it_is_gone(
    places, root, tmp_path
):
    clinic, tablet = places
    receive_exams(clinic, tablet, close_with(tablet, "one", ONE))
    other = tmp_path / "stick"
    for folder in (root, root, other, other, root):
        tell_of_photographs(clinic.vault, folder, LATER)
        assert len(lists(clinic, tablet, folder)) == 1
    (first,) = lists(clinic, tablet, root)
    first.unlink()
    tell_of_photographs(clinic.vault, root, LATER)
    (told,) = lists(clinic, tablet, root)
    assert take(tablet.vault, told.read_bytes()).is_taken


async def test_what_an_earlier_version_noted_of_the_told_devices_is_passed_over(
    places, root
):
    clinic, tablet = places
    receive_exams(clinic, tablet, close_with(tablet, "one", ONE))
    noted = {tablet.device_id: "a" * 64}
    clinic.vault.settings.put(shared_folder.PHOTOGRAPHS_TOLD, noted)
    tell_of_photographs(clinic.vault, root, LATER)
    assert len(lists(clinic, tablet, root)) == 1


async def test_one_device_that_cannot_be_told_keeps_no_other_from_it(
    tmp_path, root, monkeypatch
):
    async with paired_places(tmp_path, ("Tablet one", "Tablet two")) as (
        clinic,
        *tablets,
    ):
        for tablet in tablets:
            receive_exams(clinic, tablet, close_with(tablet, tablet.name, ONE))
        place = clinic_folder(root, clinic.device_id, tablets[0].device_id)
        place.parent.mkdir()
        place.write_text("no folder")
        with pytest.raises(FolderError):
            tell_of_photographs(clinic.vault, root, LATER)
        assert len(lists(clinic, tablets[1], root)) == 1
        place.unlink()
        tell_of_photographs(clinic.vault, root, LATER)
        assert len(lists(clinic, tablets[0], root)) == 1


async def test_a_list_that_could_not_be_written_is_written_at_the_next_look(
    places, root, monkeypatch
):
    clinic, tablet = places
    clinic.vault.settings.put(FOLDER, str(root))
    writer = FolderWriter(device_folder(root, tablet.device_id))
    receive_exams(clinic, tablet, close_with(tablet, "one", ONE))
    writer.put(sealed_of(tablet)[0], Ending.PHOTOGRAPH)
    put = FolderWriter.put

    def full(self, content, ending):
        if ending == Ending.PHOTOGRAPHS:
            raise FolderError("the test's folder")
        return put(self, content, ending)

    monkeypatch.setattr(FolderWriter, "put", full)
    assert len(look_into_folder(clinic.vault, LATER)) == 1
    assert not lists(clinic, tablet, root)
    monkeypatch.undo()
    assert look_into_folder(clinic.vault, LATER) == ()
    (told,) = lists(clinic, tablet, root)
    known = tablet.exchange.pairing.confirmed_clinic()
    said = read_list(told.read_bytes(), known.signing_key)
    assert said.held == (hash_of(ONE),)


async def test_another_folder_is_told_at_its_first_look(places, root, tmp_path):
    clinic, tablet = places
    clinic.vault.settings.put(FOLDER, str(root))
    receive_exams(clinic, tablet, close_with(tablet, "one", ONE))
    assert import_sealed(clinic.vault, sealed_of(tablet)[0], LATER).photograph
    look_into_folder(clinic.vault, LATER)
    other = tmp_path / "stick"
    other.mkdir()
    clinic.vault.settings.put(FOLDER, str(other))
    assert look_into_folder(clinic.vault, LATER) == ()
    assert len(lists(clinic, tablet, other)) == 1


async def test_a_look_that_brings_nothing_asks_for_no_list(places, root, monkeypatch):
    clinic, tablet = places
    clinic.vault.settings.put(FOLDER, str(root))
    receive_exams(clinic, tablet, close_with(tablet, "one", ONE))
    look_into_folder(clinic.vault, LATER)
    monkeypatch.delattr(shared_folder, "list_for")
    look_into_folder(clinic.vault, LATER)
