"""Colours that can be read, and the plain sentences of set-up and people."""

import pytest

from exam_app.app.forms.form import Form
from exam_app.app.forms.person_form import ASKS, initials_of, problem_of
from exam_app.app.view.passphrase_note import passphrase_note, passphrase_problem
from exam_app.ui.shell.screen import Route
from exam_app.ui.shell.theme import DARK, LIGHT, PAIRS
from exam_app.ui.widgets.code_in import NO_CAMERA, NOT_ALLOWED, refusal_words
from tests.contrast import ratio


def person(name, initials, role, pin, again):
    """Fields of a new person as they were typed."""
    form = Form(ASKS)
    typed = {"name": name, "initials": initials, "role": role}
    for field, text in (typed | {"pin": pin, "pin_again": again}).items():
        form.put(field, text or "")
    return form


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_every_pair_of_text_and_ground_has_seven_to_one(palette):
    weak = [
        (text, ground)
        for text, ground in PAIRS
        if ratio(palette[text], palette[ground]) < 7
    ]
    assert not weak


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_frames_of_controls_have_three_to_one(palette):
    # WCAG 2.2, success criterion 1.4.11.
    assert ratio(palette["line"], palette["ground"]) >= 3
    assert ratio(palette["line"], palette["raised"]) >= 3


def test_short_passphrase_is_refused_and_a_difference_is_named():
    assert "at least" in passphrase_problem("short", "short")
    assert "differ" in passphrase_problem("four quiet words here", "four quiet words")
    assert passphrase_problem("four quiet words here", "four quiet words here") == ""


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "Four or more words"),
        ("ninechars", "Too short"),
        ("aaaaaaaaaaaaaaaaaaaaaaaa", "Weak"),
        ("horsebattery", "Fair"),
        ("four quiet words here", "Strong"),
    ],
)
def test_strength_is_said_in_plain_words(typed, said):
    assert passphrase_note(typed).startswith(said)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        (("", "", "technician", "1234", "1234"), "name"),
        (("Alex", "ABCDE", "technician", "1234", "1234"), "Initials"),
        (("Alex", "", None, "1234", "1234"), "role"),
        (("Alex", "", "technician", "12", "12"), "PIN"),
        (("Alex", "", "technician", "12a4", "12a4"), "PIN"),
        (("Alex", "", "technician", "1234", "1243"), "differ"),
    ],
)
def test_first_thing_missing_of_a_person_is_named(fields, said):
    assert said in problem_of(person(*fields))[1]


def test_complete_person_has_no_problem_and_gets_initials_from_the_name():
    complete = person("Alex Rowan", "", "technician", "1234", "1234")
    assert problem_of(complete) == ("", "")
    assert initials_of("Alex van der Rowan Fell") == "AVDR"


def test_route_reads_its_named_parts_and_no_other_path():
    route = Route("/exam/{exam_id}/vitals", None)
    assert route.match("/exam/abc/vitals") == {"exam_id": "abc"}
    assert route.match("/exam/abc") is None
    assert route.match("/exam/abc/close") is None
    assert Route("/", None).match("/") == {}


@pytest.mark.parametrize(
    ("refusal", "said"),
    [
        ("NotAllowedError: Permission denied", NOT_ALLOWED),
        ("NotAllowedError: Permission dismissed", NOT_ALLOWED),
        ("The request is not allowed by the user agent or the platform", NOT_ALLOWED),
        ("CameraException(cameraSecurity, media support is disabled)", NOT_ALLOWED),
        ("camera access was refused", NOT_ALLOWED),
        ("NotFoundError: Requested device not found", NO_CAMERA),
        ("NotReadableError: Could not start video source", NO_CAMERA),
    ],
)
def test_refused_camera_is_told_from_one_that_is_not_there(refusal, said):
    assert refusal_words(refusal) == said
    # Either way there is another way in, and the same button tries again.
    assert "open a photo of the code, paste its text, or bring a file" in said
    assert "press the button again" in said
