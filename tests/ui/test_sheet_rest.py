"""What of a long sheet comes after the part that is in sight."""

import asyncio

import flet as ft

from exam_app.ui.shell.sheet_rest import MadeLater, keep_back, put_back_soon
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import stack
from tests.browser.driver import PHONE
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked

BUTTONS = 30


def buttons(count=BUTTONS):
    return [button(f"made-{n}", "Finding", print, kind="tile") for n in range(count)]


def test_what_is_kept_back_lies_below_the_window_and_comes_back_in_its_order():
    made = buttons()
    column = stack(*made)
    kept = keep_back(column, 480)
    # Of 48 pixels at the least: ten fill the window.
    assert column.controls == made[:10]
    asyncio.run(put_back_soon(kept))
    assert column.controls == made


def test_a_short_sheet_is_drawn_whole():
    column = stack(*buttons(4))
    assert keep_back(column, 844) == []
    assert len(column.controls) == 4


def test_nothing_is_kept_back_in_a_window_of_unknown_height():
    assert keep_back(stack(*buttons()), None) == []


def test_a_long_list_inside_a_slot_is_cut_too_and_all_that_comes_below_it():
    inner, last = buttons(), ft.Text("last")
    slot = Slot(lambda: stack(*inner))
    column = stack(ft.Text("first"), slot.control, last)
    kept = keep_back(column, 98)
    assert slot.control.content.controls == inner[:2]
    assert column.controls == [column.controls[0], slot.control]
    asyncio.run(put_back_soon(kept))
    assert slot.control.content.controls == inner
    assert column.controls[-1] is last


def test_what_was_drawn_anew_meanwhile_gets_nothing_of_what_stood_there_before():
    column, anew = stack(*buttons()), buttons(3)
    kept = keep_back(column, 100)
    column.controls = anew
    asyncio.run(put_back_soon(kept))
    assert column.controls is anew


def test_what_is_made_later_is_not_made_for_a_sheet_that_is_gone():
    column, asked = stack(), []
    asyncio.run(put_back_soon([MadeLater(column, lambda: asked.append(1) or [])]))
    assert not asked
    assert column.controls == []


def test_every_urgent_sign_is_in_reach_soon_after_its_sheet_is_opened(tmp_path):
    with unlocked(prepare_exam(tmp_path / "exams"), size=PHONE) as driver:
        driver.go(f"/exam/{EXAM_ID}")
        driver.click("exam-urgent")
        driver.wait("urgent-words-save")
        assert len(driver.names("urgent-sign-")) > 20
