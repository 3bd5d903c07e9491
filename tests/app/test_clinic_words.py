"""What the clinic's screens say of arrivals, identity and versions; what they read."""

import io
from dataclasses import replace

import pytest
import qrcode

from exam_app.__main__ import main
from exam_app.app.clinic import pictures as clinic_pictures
from exam_app.app.clinic.pictures import (
    CodesUnreadableError,
    FilmUnreadableError,
    PictureUnreadableError,
    codes_in_film,
    codes_in_picture,
)
from exam_app.app.clinic.reception import Reception
from exam_app.app.queries.clinic_records import DeviceNow
from exam_app.app.view import clinic_arrival_presenter as arrival
from exam_app.app.view import clinic_identity_presenter as identity
from exam_app.app.view import clinic_quarantine_presenter as quarantine
from exam_app.app.view.clinic_day_pack_presenter import MOST_ANIMALS, Choice, animals_of
from exam_app.app.view.clinic_version_lines import differences
from exam_app.exchange.identity import Join
from exam_app.exchange.incoming import SetApart
from exam_app.exchange.merge import Clash
from exam_app.exchange.pairings import Device
from exam_app.store.repositories.rows import ClosedExam
from sync.transport.collector import MOST_FINISHED
from sync.transport.frames import DotSize, split
from sync.trust.cards import as_text

SEALED = bytes(range(256)) * 8


def png_of(text):
    image, content = qrcode.make(text), io.BytesIO()
    image.save(content)
    return content.getvalue()


def test_codes_in_any_order_make_one_hand_over_and_it_is_given_once():
    frames = split(SEALED, DotSize.BIGGER)
    reception = Reception()
    for number in reversed(range(frames.count)):
        reception.take_codes([frames.text(number), frames.text(number)])
    assert reception.finished() == [SEALED]
    assert reception.finished() == []
    assert reception.read == frames.count
    (shown,) = reception.progress()
    assert shown.is_complete
    assert shown.words == "complete"


def test_completeness_is_shown_while_codes_are_missing():
    frames = split(SEALED, DotSize.BIGGER)
    reception = Reception()
    reception.take_codes([frames.text(0), frames.text(1), "a poster in the room"])
    (shown,) = reception.progress()
    assert shown.words == f"2 of {frames.count} codes"
    assert 0 < shown.share < 1
    assert "1 of them belong to no hand-over" in reception.words()


def test_a_scanner_that_types_is_read_one_code_to_a_line():
    frames = split(SEALED, DotSize.NORMAL, for_typing=True)
    reception = Reception()
    lines = "\n".join(frames.text(n).lower() for n in range(frames.count))
    assert reception.take_typed(lines) == ""
    assert reception.finished() == [SEALED]


def test_a_code_that_was_wrapped_over_several_lines_is_one_code():
    frames = split(bytes(100), DotSize.NORMAL, for_typing=True)
    text = frames.text(0)
    wrapped = "\n".join(text[at : at + 20] for at in range(0, len(text), 20))
    reception = Reception()
    assert reception.take_typed(wrapped) == ""
    assert reception.finished() == [bytes(100)]


def test_a_pairing_answer_in_the_wrong_field_is_told_from_rubbish():
    reception = Reception()
    answer = reception.take_typed(as_text(bytes(120)))
    assert "Pairing has its own screen" in answer
    for rubbish in ("good morning", "", "good\nmorning"):
        assert "no code of a hand-over" in reception.take_typed(rubbish)


def test_more_hand_overs_than_are_held_at_once_are_still_asked_for_again():
    reception, count = Reception(), MOST_FINISHED + 3
    bundles = [bytes([n]) * 100 for n in range(count)]
    found = []
    for sealed in bundles:
        reception.take_codes([split(sealed, DotSize.NORMAL).text(0)])
        found += reception.finished()
    assert found == bundles


def test_a_code_is_read_out_of_a_photo():
    pytest.importorskip("zxingcpp")
    frames = split(SEALED, DotSize.NORMAL)
    assert codes_in_picture(png_of(frames.text(0))) == (frames.text(0),)


def test_a_file_that_is_no_picture_is_refused_and_nothing_is_taken():
    pytest.importorskip("zxingcpp")
    with pytest.raises(PictureUnreadableError):
        codes_in_picture(b"no picture at all")
    with pytest.raises(PictureUnreadableError):
        codes_in_picture(png_of("HELLO")[:60])


@pytest.mark.parametrize(
    ("here", "said"),
    [
        ((), ["not installed", "folder"]),
        (("zxingcpp", "PIL"), ["camera cannot be shown", "Photos of the codes"]),
        (("zxingcpp", "PIL", "flet_camera"), ["Films cannot be opened"]),
    ],
)
def test_what_is_missing_is_said_with_what_to_do_instead(here, said, monkeypatch):
    monkeypatch.setattr(clinic_pictures, "_has", lambda module: module in here)
    told = " ".join(clinic_pictures.what_is_missing())
    assert all(words in told for words in said)


def test_nothing_is_missing_where_everything_is_installed(monkeypatch):
    monkeypatch.setattr(clinic_pictures, "_has", lambda _: True)
    assert clinic_pictures.what_is_missing() == ()


def test_without_the_part_that_reads_codes_a_photo_is_refused_plainly(monkeypatch):
    monkeypatch.setattr(clinic_pictures, "_has", lambda _: False)
    with pytest.raises(CodesUnreadableError) as refused:
        codes_in_picture(png_of("HELLO"))
    assert "not installed" in refused.value.advice
    with pytest.raises(FilmUnreadableError):
        next(codes_in_film(b"film", "film.mp4"))


def test_a_look_that_brought_photographs_only_does_not_say_that_nothing_was_new():
    assert arrival.look_words(0, 0) == "Nothing new."
    assert arrival.look_words(2, 2) == "Photographs only."
    assert arrival.look_words(3, 1) == "2 new: see above."


def test_photographs_that_came_again_are_told_from_those_that_are_new():
    assert arrival.brought_words(1, 0) == "Photographs only: 1 came."
    assert arrival.brought_words(0, 1) == (
        "Nothing new: 1 photograph that was here already."
    )
    assert arrival.brought_words(2, 3) == (
        "Photographs only: 2 came. Besides, 3 photographs that were here already."
    )


def test_a_device_clock_is_only_spoken_of_from_two_minutes_on():
    assert arrival.skew_words(119_000) == ""
    assert "125 min" not in arrival.skew_words(7_400_000)
    assert arrival.skew_words(180_000).startswith("The device's clock is 3 min ahead")
    assert "travelled" in arrival.skew_words(-3 * 86_400_000)


def test_each_gap_is_named_with_its_device_and_what_to_do():
    keys = {"signing_key": bytes(32), "agreement_key": bytes(32)}
    van, barn = (Device(device_id=n, name=n, **keys) for n in ("Van 2", "Barn"))
    (line,) = arrival.gap_lines([DeviceNow(van, missing=(17,)), DeviceNow(barn)])
    assert line.startswith("Van 2: bundle 17 is missing.")


def test_what_became_of_each_record_is_said_and_counted():
    outcomes = [("Bramble", "stored", ""), ("Moss", "refused", "changed")]
    assert arrival.outcome_lines(outcomes) == (
        "Bramble: stored",
        "Moss: refused (changed)",
    )
    assert arrival.outcome_summary(outcomes) == "1 stored, 1 refused"
    assert arrival.outcome_summary([]) == "no record in it"


def test_two_animals_are_laid_side_by_side_and_what_differs_is_marked():
    first = {"name": "Moss", "species": "cat", "chip": "1" * 15, "colour": "grey"}
    second = {"name": "Mossy", "species": "cat", "chip": "1" * 15}
    question = identity.join_question(
        Join("k", "a", "b", "chip", 1), first, second, ("2 records", "1 record")
    )
    assert question.because == "Both carry the same chip number."
    lines = {
        label: (value, differs) for label, value, differs in question.sides[1].lines
    }
    assert lines["Name"] == ("Mossy", True)
    assert lines["Species"] == ("cat", False)
    assert lines["Colour"] == (identity.NOTHING, True)


def test_where_an_animal_was_seen_names_each_device_once():
    rows = [
        ClosedExam(exam_id="a", started="2026-11-20 09:00 +01:00", device_id="d1"),
        ClosedExam(exam_id="b", started="2026-11-25 09:00 +01:00", device_id="d1"),
    ]
    said = identity.seen_words(rows, {"d1": "Van 2"})
    assert said == "2 records, 2026-11-20 to 2026-11-25, from Van 2"
    assert identity.seen_words([], {}) == "no record here yet"


def test_a_clash_shows_both_values_and_an_emptied_one_in_words():
    clash = Clash("owner.phone", "555 0100", "", "k")
    question = identity.clash_question(clash, "Moss", "Van 2")
    assert question.label == "Owner's phone"
    assert (question.ours, question.theirs) == ("555 0100", identity.NOTHING)


def test_only_whole_hand_overs_can_be_admitted_and_reasons_are_plain():
    entry = SetApart("record", b"", "BadSignatureError", "", key="ab" * 32)
    assert not quarantine.can_be_admitted(entry)
    assert quarantine.can_be_admitted(replace(entry, kind="bundle"))
    assert "was changed" in quarantine.reason_words(entry)
    revoked = replace(entry, reason="its device was revoked before it was made")
    assert quarantine.reason_words(revoked).startswith("Its device was revoked")


def test_versions_are_told_apart_by_the_lines_that_differ():
    one = "Exam: Moss\nURGENT: x\n\nVITALS\n- Weight: 4 kg\n- Pain: 1\n"
    two = "Exam: Moss\nURGENT: x\n\nVITALS\n- Weight: 5 kg\n- Pain: 1\n"
    first, second = differences([one, two])
    assert first == ("Vitals: Weight: 4 kg",)
    assert second == ("Vitals: Weight: 5 kg",)


def test_a_day_pack_takes_the_animals_seen_last_each_once():
    rows = [
        ClosedExam(exam_id="1", animal_id="a", device_id="van"),
        ClosedExam(exam_id="2", animal_id="b", device_id="barn"),
        ClosedExam(exam_id="3", animal_id="a", device_id="barn"),
    ]
    assert animals_of(Choice.NEWEST, rows, "barn", ()) == ("a", "b")
    assert animals_of(Choice.OF_DEVICE, rows, "barn", ()) == ("b", "a")
    assert animals_of(Choice.CHOSEN, rows, "barn", ("z",)) == ("z",)
    assert animals_of(Choice.NONE, rows, "barn", ("z",)) == ()
    many = [ClosedExam(exam_id="1", animal_id=str(n)) for n in range(40)]
    assert len(animals_of(Choice.NEWEST, many, "van", ())) == MOST_ANIMALS


def test_the_clinic_switch_goes_with_the_demonstration_only(capsys):
    with pytest.raises(SystemExit):
        main(["--clinic"])
    assert "--clinic goes with --demo" in capsys.readouterr().err


@pytest.mark.slow
def test_codes_are_read_out_of_a_film_frame_by_frame(tmp_path):
    opencv, np = pytest.importorskip("cv2"), pytest.importorskip("numpy")
    pytest.importorskip("zxingcpp")
    frames, path = split(SEALED, DotSize.NORMAL), tmp_path / "codes.avi"
    coding = opencv.VideoWriter_fourcc(*"MJPG")
    film = opencv.VideoWriter(str(path), coding, 10, (720, 720))
    for number in range(frames.count):
        code = np.frombuffer(png_of(frames.text(number)), np.uint8)
        picture = opencv.imdecode(code, opencv.IMREAD_COLOR)
        film.write(opencv.resize(picture, (720, 720)))
    film.release()
    reception = Reception()
    for codes in codes_in_film(path.read_bytes(), path.name):
        reception.take_codes(codes)
    assert reception.finished() == [SEALED]
    with pytest.raises(FilmUnreadableError):
        list(codes_in_film(b"no film at all", "holiday.mp4"))
