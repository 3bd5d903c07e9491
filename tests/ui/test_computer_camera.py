"""The camera of the computer on the sheet of a photograph, in each of its states."""

import importlib.util
import io
import itertools

import pytest
from flet import PagePlatform
from flet_camera import Camera
from PIL import Image

from exam_app.app.pictures.errors import PhotographRefusedError
from exam_app.app.pictures.preparing import mirrored_back, prepare_photograph
from exam_app.app.session import SilentMessages
from exam_app.domain.errors import TooManyPhotographsError
from exam_app.ui.photographs import computer_camera, take_sheet
from exam_app.ui.photographs.computer_camera import (
    IN_USE,
    LOCKED,
    NO_CAMERA,
    NO_PICTURE,
    NOT_ALLOWED,
    offers_camera,
    why_none,
)
from exam_app.ui.shell import app as shell
from tests.browser.cheap_app import as_environment_asks
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.fake_client import NO_ANSWER
from tests.browser.in_process import unlocked
from tests.browser.prepared import PIN
from tests.photographs import content_of, drawn, is_upright, tags
from tests.ui.test_photograph_sheets import EXAM, choose

FRONT = {"name": "Built in", "lens_direction": "external", "sensor_orientation": 0}
BACK = {"name": "On a stalk", "lens_direction": "back", "sensor_orientation": 0}


def as_seen():
    """A picture whose left and right, top and foot can be told apart."""
    picture = drawn(1000, 600)
    picture.paste((30, 160, 30), (400, 0, 600, 40))
    return picture


def mirrored():
    return content_of(as_seen().transpose(Image.Transpose.FLIP_LEFT_RIGHT), quality=95)


def answers(*cameras, picture=b""):
    shown = cameras or (FRONT,)
    return {
        "get_available_cameras": [*shown],
        "initialize": None,
        "take_picture": picture or mirrored(),
    }


@pytest.fixture
def driver(tmp_path, monkeypatch):
    monkeypatch.setattr(computer_camera, "LOOK_SECONDS", 0.01)
    monkeypatch.setattr(shell, "IDLE_LOOK_SECONDS", 0.01)
    folder = tmp_path / "exams"
    prepare_exam(folder)
    with as_environment_asks(), unlocked(folder) as driver:
        driver.client.camera.update(answers())
        yield driver


def open_ways(driver):
    driver.go(EXAM)
    driver.click("exam-more")
    driver.click("exam-photographs")
    driver.wait("photo-choose")


def live(driver):
    open_ways(driver)
    driver.click("photo-camera-use")
    driver.wait_text("photo-camera-said", "What the camera sees now")


def taken(driver):
    open_ways(driver)
    take(driver)


def take(driver):
    driver.click("photo-camera-use")
    driver.wait_text("photo-camera-said", "What the camera sees now")
    driver.click("photo-shutter")
    driver.wait("photo-keep")


def is_let_go(driver):
    """Whether no camera stands on the page: then the browser has let go of it."""
    index = driver.client.session.index
    return not any(isinstance(one, Camera) for one in [*index.values()])


def rows(driver):
    return driver.app.session.vault.photographs.rows()


def test_a_picture_is_taken_kept_named_and_saved(driver):
    taken(driver)
    assert is_let_go(driver)
    assert not driver.has("photo-caption")
    driver.click("photo-keep")
    driver.type("photo-caption", "Standing")
    driver.click("photo-save")
    driver.gone("sheet")
    (row,) = rows(driver)
    (named,) = driver.app.session.vault.drafts.get(EXAM_ID)["photos"]
    assert (named["caption"], named["sha256"]) == ("Standing", row.sha256)
    assert (named["width"], named["height"]) == (1000, 600)


@pytest.mark.parametrize("camera", [FRONT, BACK], ids=["mirrors", "does not"])
def test_left_and_right_are_kept_as_they_are(camera, driver):
    picture = mirrored() if camera is FRONT else content_of(as_seen(), quality=95)
    driver.client.camera.update(answers(camera, picture=picture))
    taken(driver)
    (row,) = rows(driver)
    kept = driver.app.session.vault.photographs.get(row.sha256)
    assert is_upright(Image.open(io.BytesIO(kept)))


@pytest.mark.parametrize("options", [{}, {"exif": tags(6)}], ids=["none", "others"])
async def test_a_mirrored_picture_is_turned_back_whatever_tags_it_has(options):
    stored = as_seen().transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    prepared_picture = await prepare_photograph(
        mirrored_back(content_of(stored, quality=95, **options))
    )
    shown = Image.open(io.BytesIO(prepared_picture))
    assert shown.size == (1000, 600)
    assert is_upright(shown)


def test_what_is_no_jpeg_is_not_marked():
    with pytest.raises(PhotographRefusedError):
        mirrored_back(content_of(drawn(), "PNG"))


def test_a_picture_taken_again_replaces_the_one_before(driver):
    taken(driver)
    (first,) = rows(driver)
    driver.client.camera["take_picture"] = content_of(drawn(800, 600))
    take(driver)
    driver.click("photo-keep")
    driver.type("photo-caption", "Standing")
    driver.click("photo-save")
    driver.gone("sheet")
    (named,) = driver.app.session.vault.drafts.get(EXAM_ID)["photos"]
    assert named["sha256"] != first.sha256
    assert (named["width"], named["height"]) == (800, 600)


def test_taking_again_by_mistake_leads_back_to_the_picture(driver):
    taken(driver)
    driver.click("photo-camera-use")
    driver.wait_text("photo-camera-off", "Back to the photograph")
    driver.click("photo-camera-off")
    driver.wait("photo-keep")
    assert driver.has("photo-preview")
    assert is_let_go(driver)


def test_a_sheet_closed_by_mistake_has_the_picture_when_it_is_opened_again(driver):
    taken(driver)
    driver.press("Escape")
    driver.gone("sheet")
    driver.go(f"{EXAM}/review")
    driver.wait_text("typed-notice", "a picture")
    open_ways(driver)
    driver.wait("photo-preview")
    assert driver.has("photo-save")


REFUSED = {
    "none": ({"get_available_cameras": []}, NO_CAMERA),
    "none found": (
        {"get_available_cameras": RuntimeError("CameraException(cameraNotFound, x)")},
        NO_CAMERA,
    ),
    "refused": (
        {
            "get_available_cameras": RuntimeError(
                "CameraException(CameraAccessDenied, The user denied it)"
            )
        },
        NOT_ALLOWED,
    ),
    "in use": (
        {"initialize": RuntimeError("CameraException(cameraNotReadable, x)")},
        IN_USE,
    ),
    "unheard of": ({"initialize": RuntimeError("?")}, IN_USE),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", REFUSED)
def test_without_a_camera_it_is_said_why_and_a_file_is_chosen(name, driver, tmp_path):
    altered, said = REFUSED[name]
    driver.client.camera.update(altered)
    open_ways(driver)
    driver.click("photo-camera-use")
    driver.wait_text("photo-problem", said)
    assert is_let_go(driver)
    assert not driver.has("photo-live")
    assert rows(driver) == []
    # It can be tried again, and a file is taken as ever.
    choose(driver, tmp_path)
    driver.wait("photo-save")
    driver.gone("photo-problem")
    assert not driver.has("photo-keep")


def test_every_refusal_says_what_is_safe_and_what_can_be_done():
    for said in (NOT_ALLOWED, IN_USE, NO_CAMERA, NO_PICTURE):
        assert "the exam is as it was" in said
        assert "choose a picture" in said
    assert why_none("NotAllowedError: Permission dismissed") == NOT_ALLOWED
    assert why_none("Could not start video source, NotReadableError") == IN_USE
    assert why_none("NotFoundError: Requested device not found") == NO_CAMERA


def test_a_camera_that_gives_no_picture_is_said_and_started_again(driver):
    driver.client.camera["take_picture"] = RuntimeError("unplugged")
    live(driver)
    driver.click("photo-shutter")
    driver.wait_text("photo-problem", NO_PICTURE)
    assert is_let_go(driver)
    driver.client.camera.update(answers())
    take(driver)
    driver.gone("photo-problem")


def test_a_picture_that_cannot_be_kept_is_refused_and_the_one_before_stays(driver):
    taken(driver)
    driver.client.camera["take_picture"] = b"\xff\xd8 and no picture"
    driver.click("photo-camera-use")
    driver.wait_text("photo-camera-said", "What the camera sees now")
    driver.click("photo-shutter")
    driver.wait_text("photo-problem", "the exam is as it was")
    assert driver.has("photo-keep")
    assert len(rows(driver)) == 1


def another_tab(driver):
    driver.app.session.take("another", SilentMessages(), lambda: None)


LEFT = {
    "closed": lambda driver: driver.click("sheet-close"),
    "left by key": lambda driver: driver.press("Escape"),
    "another screen": lambda driver: driver.go("/settings/upkeep"),
    "stopped": lambda driver: driver.click("photo-camera-off"),
    "another tab": lambda driver: driver.app.session.take(
        "another", None, lambda: None
    ),
}
STATES = {
    "asking": {"get_available_cameras": NO_ANSWER},
    "starting": {"initialize": NO_ANSWER},
    "live": {},
    "taking": {"take_picture": NO_ANSWER},
}


USUAL = [(way, "live") for way in LEFT] + [("closed", state) for state in STATES]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("way", "state"),
    [
        pytest.param(*both, marks=[] if both in USUAL else pytest.mark.exhaustive)
        for both in itertools.product(LEFT, STATES)
    ],
)
def test_the_camera_is_let_go_of_however_the_sheet_is_left(way, state, driver):
    driver.client.camera.update(STATES[state])
    open_ways(driver)
    driver.click("photo-camera-use")
    driver.wait("photo-live")
    if state in ("live", "taking"):
        driver.wait_text("photo-camera-said", "What the camera sees now")
    if state == "taking":
        driver.click("photo-shutter")
    assert not is_let_go(driver)
    LEFT[way](driver)
    driver.until(lambda: is_let_go(driver), "let go of")
    assert rows(driver) == []


def locked(driver):
    session = driver.app.session
    usual, session.lock_after_seconds = session.lock_after_seconds, 0.0
    driver.wait("lock-pin")
    session.lock_after_seconds = usual


def test_a_lock_lets_go_of_the_camera_and_says_so_afterwards(driver):
    live(driver)
    locked(driver)
    driver.until(lambda: is_let_go(driver), "let go of")
    driver.type("lock-pin", PIN)
    driver.click("lock-open")
    driver.wait_text("photo-problem", LOCKED)
    # And it is started again.
    driver.click("photo-camera-use")
    driver.wait_text("photo-camera-said", "What the camera sees now")
    driver.gone("photo-problem")
    locked(driver)
    driver.until(lambda: is_let_go(driver), "let go of")


def test_of_several_cameras_one_is_chosen_and_used_again(driver):
    driver.client.camera.update(answers(FRONT, BACK))
    live(driver)
    driver.wait_text("photo-camera-0", "Built in")
    driver.click("photo-camera-1")
    driver.wait_text("photo-camera-said", "What the camera sees now")
    assert is_chosen(driver, "photo-camera-1")
    driver.click("photo-shutter")
    driver.wait("photo-keep")
    driver.click("photo-camera-use")
    driver.wait_text("photo-camera-said", "What the camera sees now")
    assert is_chosen(driver, "photo-camera-1")
    # One is unplugged: the other is used.
    driver.click("photo-camera-off")
    driver.client.camera.update(answers(FRONT))
    driver.click("photo-camera-use")
    driver.wait_text("photo-camera-said", "What the camera sees now")
    assert not driver.has("photo-camera-0")


def is_chosen(driver, identifier):
    return driver._look(lambda: driver._find(identifier).control.get("selected"))


def test_a_phone_is_offered_its_own_camera_and_a_desktop_window_a_file(driver):
    page = driver.client.session.page
    assert offers_camera(page)
    for platform in (PagePlatform.ANDROID, PagePlatform.IOS):
        page.platform = platform
        assert not offers_camera(page)
    page.platform, page.web = PagePlatform.LINUX, False
    assert not offers_camera(page)
    page.web = True
    assert offers_camera(page)


def test_where_the_part_is_missing_only_files_are_offered(driver, monkeypatch):
    find = importlib.util.find_spec
    monkeypatch.setattr(
        "importlib.util.find_spec",
        lambda name, *rest: None if name == "flet_camera" else find(name, *rest),
    )
    open_ways(driver)
    driver.wait_text("photo-choose", "Take or choose a picture")
    assert not driver.has("photo-camera-use")


def test_no_camera_is_asked_for_where_no_photograph_has_room(driver, monkeypatch):
    def refuse(_exam):
        raise TooManyPhotographsError

    monkeypatch.setattr(take_sheet, "require_room", refuse)
    open_ways(driver)
    driver.click("photo-camera-use")
    driver.wait_text("photo-problem", TooManyPhotographsError.advice)
    assert is_let_go(driver)
