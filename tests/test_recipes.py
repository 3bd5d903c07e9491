"""The recipes of DEVELOPERS.md, carried out in a copy of the sources as they stand.

Every file that is changed must be one that the recipe names; what was added is then
used in a Python of its own, which knows only the copy.
"""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
LEFT_OUT = shutil.ignore_patterns("__pycache__", "static", "assets", "*.wasm")

VITAL = """
[[vitals]]
id = "intraocular_pressure"
label = "Pressure in the eye"
plain_label = "Pressure in the eye"
kind = "measure"
scopes = ["technician", "veterinarian"]
measure = { id = "intraocular_pressure", label = "Pressure in the eye", \
plain_label = "Pressure in the eye", unit = "kPa", units_offered = ["kPa", "mmHg"], \
precision = "0.1" }

[[units]]
id = "kPa"
ucum = "kPa"

[[intervals]]
id = "invented_for_this_test"
measure_id = "intraocular_pressure"
low = 1.3
high = 3.3
unit = "kPa"
statistic = "range"
source_id = "merck_triage"
provenance = "memory"
"""
SCREEN = '''
"""A screen that greets."""

import flet as ft

from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen


async def build(tab: Tab, name: str) -> Screen:
    """Build the greeting."""
    return Screen(title="Greeting", body=[ft.Text(f"Hello {name}", key="greeting")])
'''
# What each recipe adds: file, the line it stands after, and the line.
STEPS = {
    "A region or a vital": (("protocols/dog.toml", None, VITAL),),
    "A field of the record": (
        ("domain/exam/visit.py", '    given_by: str = ""\n', '    needle: str = ""\n'),
        ("record/schema.py", '        " given_by"\n', '        " needle"\n'),
        ("record/FORMAT.md", "11 withdrawal, 12 given_by", ", 13 needle"),
        (
            "app/forms/visit_forms.py",
            '        _more("reason", tr("Reason")),\n',
            '        _more("needle", "Needle"),\n',
        ),
        (
            "domain/wording/visit_wording.py",
            '        f"lot {given.lot}" if given.lot else "",\n',
            '        f"needle {given.needle}" if given.needle else "",\n',
        ),
    ),
    "A screen": (
        ("ui/day/greeting.py", None, SCREEN),
        (
            "ui/shell/routes.py",
            '    Route("/plan", _screen("day.day", "build_plan")),\n',
            '    Route("/greeting/{name}", _screen("day.greeting")),\n',
        ),
    ),
}


def recipe(name: str) -> str:
    found = re.search(rf"(?m)^\*\*{re.escape(name)}\.\*\* .*$", GUIDE)
    assert found, f"no recipe {name!r}"
    return found[0]


def places_of(name: str) -> list[str]:
    """Return every file and folder that a recipe names."""
    words = re.findall(r"`([^`]+)`", recipe(name))
    return [w.replace("SPECIES", "dog") for w in words if "/" in w or w == "ui"]


def carry_out(name: str, package: Path) -> None:
    for file, after, text in STEPS[name]:
        path = package / file
        if after is None:
            with path.open("a", encoding="utf-8") as opened:
                opened.write(text)
            continue
        before = path.read_text("utf-8")
        assert before.count(after) == 1, (file, after)
        path.write_text(before.replace(after, after + text), "utf-8")


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    """The sources with all three recipes carried out."""
    folder = tmp_path_factory.mktemp("sources")
    for package in ("exam_app", "sync"):
        shutil.copytree(ROOT / package, folder / package, ignore=LEFT_OUT)
    for name in STEPS:
        carry_out(name, folder / "exam_app")
    return folder


def run(folder: Path, program: str) -> list[str]:
    """Run a program against the copy; return the lines it printed."""
    where = {**os.environ, "PYTHONPATH": f"{folder}{os.pathsep}{ROOT}"}
    is_copy = f"assert exam_app.__file__.startswith({str(folder)!r})"
    program = f"import exam_app\n{is_copy}\n{program}"
    done = subprocess.run(
        [sys.executable, "-c", program],
        env=where,
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


@pytest.mark.parametrize("name", STEPS)
def test_a_recipe_names_every_place_that_is_changed_and_no_other(name):
    changed = [file for file, _, _ in STEPS[name]]
    named = [place for place in places_of(name) if not place.startswith("tests/")]
    for file in changed:
        assert any(file == p or file.startswith(f"{p}/") for p in named), file
    for place in named:
        assert any(file == place or file.startswith(f"{place}/") for file in changed)


@pytest.mark.slow
def test_a_vital_added_as_written_is_typed_flagged_written_and_exported(copy):
    lines = run(
        copy,
        """
from tests.exam_samples import BY, new_exam
from exam_app.app.forms.vital_form import VitalForm, to_entry
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.wording.written_record import write_record
from exam_app.export.fhir_shapes import quantity
from exam_app.protocols.loader import load_protocol
protocol = load_protocol("dog").protocol
vital = protocol.vital("intraocular_pressure")
exam = new_exam()
entry = to_entry(exam, protocol, vital, VitalForm("30 mmHg", "kPa"))
exam = record_vital(exam, protocol, vital.vital_id, entry, BY, ())
answer = exam.vital(vital.vital_id)
print(answer.flag.level.value)
print(quantity(answer.reading.value, answer.reading.unit, vital.measure)["code"])
for section in write_record(exam, protocol).sections:
    for line in section.lines:
        if "30 mmHg" in line:
            print(line)
""",
    )
    assert lines[:2] == ["above", "mm[Hg]"]
    assert lines[-1].startswith(
        "Pressure in the eye: 30 mmHg (4.0 kPa). Above the published range"
    )


@pytest.mark.slow
def test_a_field_added_as_written_is_asked_kept_and_shown(copy):
    lines = run(
        copy,
        """
from tests.exam_samples import BY, NOW, PROTOCOL, new_exam
from exam_app.app.forms.visit_forms import entry_said, given_asks
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.wording.written_record import write_record
from exam_app.domain.exam.exam import Exam
from exam_app.record.plain_form import from_plain, to_plain
from exam_app.record.schema import FIELD_KEYS
from exam_app.domain.exam.visit import Given
asks = [ask.name for ask in given_asks("dog", NOW, ())]
typed = {name: "" for name in asks} | {"product": "fluid", "needle": "21 G"}
given = entry_said("given", typed, BY)
exam = record_visit(new_exam(), given)
assert from_plain(Exam, to_plain(exam)) == exam
print(FIELD_KEYS[Given]["needle"])
print("needle 21 G" in write_record(exam, PROTOCOL).as_text())
""",
    )
    assert lines == ["13", "True"]


@pytest.mark.slow
def test_a_screen_added_as_written_opens_by_its_path(copy):
    lines = run(
        copy,
        """
import asyncio
from exam_app.ui.shell.routes import ROUTES
route, named = next((r, m) for r in ROUTES if (m := r.match("/greeting/Bramble")))
screen = asyncio.run(route.build(None, **named))
print(screen.title, screen.body[0].value)
""",
    )
    assert lines == ["Greeting Hello Bramble"]
