"""What was typed and not saved survives closing a sheet, a lock and a kill, or asks."""

import ast
import asyncio
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

import exam_app.ui
from exam_app.app.forms import lump_form
from exam_app.app.forms.form import Form, starts
from exam_app.app.forms.vital_form import VitalForm
from exam_app.app.typed_entries import TypedEntries
from exam_app.app.view.review_presenter import unsaved_text
from exam_app.app.view.vital_offers import (
    begun_with,
    counted_before,
    keep_counted,
    keep_entered,
)
from exam_app.domain.exam.vitals import RateState
from exam_app.domain.measure.counting import CountAlong
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault
from exam_app.ui.widgets.fields import text_field
from tests.store_disks import CHEAP, TEST_BOUNDS

EXAM = "e" * 32


class Table:
    """The store's table, in memory."""

    def __init__(self):
        self.rows = {}
        self.fails = False

    def put(self, place, label, words):
        if self.fails:
            raise DeviceGoneError
        if words:
            self.rows[place] = (label, dict(words))
        else:
            self.rows.pop(place, None)

    def all(self):
        return dict(self.rows)


class DeviceGoneError(exam_app.domain.errors.ExamError):
    advice = "Locked."


async def write(action):
    action()


def shelf_over(table):
    entries = TypedEntries(write, lambda: table)
    entries.load()
    return entries


async def typed_then_killed(table, *words, place=f"{EXAM}/given"):
    entries = shelf_over(table)
    typed = entries.at(place, "Given")
    for name, text in words:
        typed.note(name, text)
    await entries.settle()


def test_words_come_back_after_a_kill():
    table = Table()
    asyncio.run(typed_then_killed(table, ("product", "meloxicam"), ("dose", "0.2")))
    typed = shelf_over(table).at(f"{EXAM}/given", "Given")
    assert typed.was_kept
    assert (typed.value("product"), typed.value("dose")) == ("meloxicam", "0.2")
    assert typed.value("route", "by mouth") == "by mouth"


def test_words_that_are_saved_or_thrown_away_are_forgotten_in_the_store_too():
    table = Table()
    asyncio.run(typed_then_killed(table, ("product", "meloxicam")))

    async def saved():
        entries = shelf_over(table)
        entries.at(f"{EXAM}/given", "Given").drop()
        await entries.settle()

    asyncio.run(saved())
    assert table.rows == {}


def test_what_was_thrown_away_can_be_taken_back():
    async def change_of_mind():
        entries = shelf_over(Table())
        typed = entries.at("place", "Given")
        typed.note("product", "meloxicam")
        typed.restore(typed.drop())
        return typed.value("product")

    assert asyncio.run(change_of_mind()) == "meloxicam"


def test_text_that_equals_what_is_saved_is_not_kept():
    async def typed_back():
        entries = shelf_over(Table())
        typed = entries.at("place", "Note")
        typed.note("note", "half", saved="whole")
        typed.note("note", "whole", saved="whole")
        return entries.words("place")

    assert asyncio.run(typed_back()) == {}


def test_words_stay_when_the_store_refuses_and_go_with_the_next_letter():
    table = Table()

    async def locked():
        entries = shelf_over(table)
        typed = entries.at("place", "Note")
        table.fails = True
        typed.note("note", "ha")
        await entries.settle()
        assert table.rows == {}
        table.fails = False
        typed.note("note", "half")
        await entries.settle()
        return typed.value("note")

    assert asyncio.run(locked()) == "half"
    assert table.rows["place"][1] == {"note": "half"}


def test_what_is_typed_since_stands_when_the_store_is_opened_again():
    table = Table()
    table.rows = {"place": ("Note", {"note": "old"}), "other": ("Note", {"note": "x"})}

    async def unlocked():
        entries = TypedEntries(write, lambda: table)
        entries.at("place", "Note").note("note", "new")
        entries.load()
        await entries.settle()
        return entries.words("place"), entries.words("other")

    assert asyncio.run(unlocked()) == ({"note": "new"}, {"note": "x"})


def test_a_field_begins_with_what_was_typed_and_notes_every_letter():
    async def at_the_field():
        entries = shelf_over(Table())
        typed = entries.at("place", "Note")
        heard = []
        field = text_field(
            "note", "Note", value="saved", typed=typed, on_change=heard.append
        )
        field.entry.value = "saved and more"
        event = Event(field.entry)
        await field.entry.on_change(event)
        again = text_field("note", "Note", value="saved", typed=typed)
        return again.value, heard == [event]

    @dataclass
    class Event:
        control: object

    assert asyncio.run(at_the_field()) == ("saved and more", True)


def test_a_lump_half_described_is_kept_with_everything_chosen():
    half = {"typed": "12 x", "tool": "ruler", "feel": "firm"}

    async def again():
        typed = shelf_over(Table()).at("place", "Lump")
        form = Form(lump_form.ASKS, "lump", typed=typed, is_by_name=True)
        for name, text in half.items():
            form.put(name, text)
        return Form(lump_form.ASKS, "lump", typed=typed, is_by_name=True).values()

    assert asyncio.run(again()) == starts(lump_form.ASKS) | half


def test_a_value_typed_is_kept_with_unit_site_and_state_and_never_they_alone():
    saved = VitalForm(unit="kg", site="rectal")

    async def kept(form):
        typed = shelf_over(Table()).at("place", "Temperature")
        keep_entered(typed, form, saved)
        return begun_with(typed, saved)

    form = replace(saved, typed="101.3", unit="degF", state=RateState.RESTING)
    assert asyncio.run(kept(form)) == form
    assert asyncio.run(kept(replace(saved, site="ear"))) == saved
    noted = replace(saved, note="moved all the time")
    assert asyncio.run(kept(noted)) == noted


def test_a_count_that_was_typed_and_never_used_is_offered_again():
    async def counted():
        typed = shelf_over(Table()).at("place", "Heart rate")
        keep_counted(typed, "48", 30)
        first = counted_before(typed)
        keep_counted(typed, "", 30)
        return first, counted_before(typed)

    assert asyncio.run(counted()) == (CountAlong(48, 30), None)


def test_the_review_names_what_is_typed_and_not_saved():
    async def unsaved():
        entries = shelf_over(Table())
        entries.at(f"{EXAM}/given", "Given").note("product", "meloxicam")
        entries.at(f"{EXAM}/note", "Note").note("note", " ")
        entries.at("another/note", "Note").note("note", "elsewhere")
        return unsaved_text(entries.of_exam(EXAM))

    text = asyncio.run(unsaved())
    assert "Given: “meloxicam”" in text
    assert "Note" not in text
    assert unsaved_text(()) == ""


def test_the_store_keeps_typed_words_beside_a_draft_and_drops_them_with_it(tmp_path):
    async def through_a_restart():
        vault, _ = await create_vault(tmp_path, "pass", CHEAP, bounds=TEST_BOUNDS)
        vault.typed.put(f"{EXAM}/given", "Given", {"product": "meloxicam"})
        vault.typed.put("animal/new-dog", "Add a dog", {"name": "Bramble"})
        vault.close()
        vault = await open_vault(tmp_path, "pass", bounds=TEST_BOUNDS)
        before = vault.typed.all()
        vault.close_exam(ClosedExam(exam_id=EXAM, animal_id="a"), b"signed")
        after = vault.typed.all()
        vault.close()
        return before, after

    before, after = asyncio.run(through_a_restart())
    assert before[f"{EXAM}/given"] == ("Given", {"product": "meloxicam"})
    assert list(after) == ["animal/new-dog"]


# A field by itself, and a form of fields.
MAKERS = {"text_field", "Form"}
# The drawing of a form: what keeps its words is told where the form is made.
DRAWS_FORMS = "widgets/form.py"
# Fields that keep nothing, each with its reason.
SECRET = "a PIN or passphrase is never kept"
SEARCH = "a search holds nothing"
CODE = "typed off another screen, which still shows it"
WHOLE = "set-up and settings: typed once, beside their own button"
KEEP_NOTHING = {
    "widgets/pin.py": SECRET,
    "widgets/code_in.py": CODE,
    "widgets/code_out.py": CODE,
    "start/unlock.py": SECRET,
    "start/restore.py": SECRET,
    "start/recovery_screen.py": SECRET,
    "animal/animals.py": SEARCH,
    "animal/from_table.py": "said of a file, and kept with it while it is in hand",
    "animal/erase_owner.py": "what cannot be taken back is asked anew",
    "clinic/day_pack.py": SEARCH,
    "clinic/review_list.py": SEARCH,
    "exam/find_place.py": SEARCH,
    "clinic/devices.py": CODE,
    "clinic/receive.py": CODE,
    "handover/hand_over.py": CODE,
    "handover/pair_clinic.py": CODE,
    "handover/receipt.py": CODE,
    "settings/stored_exams.py": CODE,
    "settings/retention.py": WHOLE,
    "settings/groups.py": WHOLE,
    "start/set_up.py": WHOLE,
}
SCREENS = Path(exam_app.ui.__path__[0])
# Their forms keep what is typed as a whole, at every letter.
WHOLE_FORMS = {
    "vital/vital_zone.py",
}


# Beside fields whose words are kept stands one whose form keeps them, or a search.
WITH_OTHERS = ("vital/vital_sheet.py", "urgent/sign_list.py")


def fields_of(path):
    tree = ast.parse(path.read_text("utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in MAKERS:
            yield {keyword.arg: keyword.value for keyword in node.keywords}


def test_every_field_of_every_sheet_keeps_what_is_typed_in_it():
    seen = 0
    for path in sorted(SCREENS.rglob("*.py")):
        name = path.relative_to(SCREENS).as_posix()
        for given in fields_of(path):
            seen += 1
            if name == DRAWS_FORMS:
                continue
            if name in KEEP_NOTHING:
                assert "typed" not in given, name
            elif name in WHOLE_FORMS:
                assert "on_change" in given, name
            elif name in WITH_OTHERS and "typed" not in given:
                assert "on_change" in given
            else:
                assert "typed" in given, name
    assert seen > 50


def test_every_exception_is_still_a_screen_with_a_field():
    for name in (*KEEP_NOTHING, *WHOLE_FORMS):
        assert list(fields_of(SCREENS / name)), name


@pytest.mark.parametrize("name", sorted(WHOLE_FORMS))
def test_every_form_kept_as_a_whole_is_kept(name):
    text = (SCREENS / name).read_text("utf-8")
    assert ".keep(" in text or ".note(" in text or "edit.form = " in text


BY_CODE = "a code, a number or a folder, judged at once by its own button"
BESIDE_BUTTONS = "one field beside buttons that answer at a tap"
# Screens that make a field by hand, each with its reason; any other is a form.
BY_HAND = {
    "animal/animals.py": SEARCH,
    "clinic/day_pack.py": SEARCH,
    "clinic/devices.py": BY_CODE,
    "clinic/receive.py": BY_CODE,
    "clinic/note_signing.py": "one field above a PIN",
    "clinic/review_list.py": SEARCH,
    "exam/find_place.py": SEARCH,
    "exam/seen_earlier.py": BESIDE_BUTTONS,
    "exam/stop_early.py": BESIDE_BUTTONS,
    "handover/hand_over.py": BY_CODE,
    "handover/pair_clinic.py": BY_CODE,
    "handover/receipt.py": BY_CODE,
    "region/more_sheet.py": BESIDE_BUTTONS,
    "round/round_entry.py": "the same fields for every animal of a round",
    "round/round_thumb.py": "a tag, which a reader types and ends with Enter",
    "settings/stored_exams.py": BY_CODE,
    "start/recovery_screen.py": BY_CODE,
    "start/restore.py": SECRET,
    "start/unlock.py": SECRET,
    "urgent/sign_list.py": SEARCH,
    "vital/vital_zone.py": "a value kept whole with its unit, site and state",
    "vital/vital_sheet.py": BESIDE_BUTTONS,
}
BY_HAND_MAKERS = {
    "text_field",
    "TextField",
    "Dropdown",
    "DropdownM2",
    "CupertinoTextField",
}


def test_no_screen_makes_a_field_by_hand_without_a_reason():
    made = set()
    for path in SCREENS.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            called = getattr(node.func, "id", "") or getattr(node.func, "attr", "")
            if called in BY_HAND_MAKERS:
                made.add(path.relative_to(SCREENS).as_posix())
    assert {one for one in made if not one.startswith("widgets/")} == set(BY_HAND)
