"""Day lists and rounds on paper."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.app.queries.clinic_records import pressing_of
from exam_app.app.view.clinic_review_presenter import review_lines, review_title
from exam_app.app.view.round_presenter import columns_offered
from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.visit import GroupFacts, PrivateNote
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.protocol import Scope
from exam_app.paper.lists import ListLine, day_sheet, round_sheet
from exam_app.paper.printing import print_day_list
from exam_app.paper.sheet import PageSize
from tests.generated_exams import begin, drive_on
from tests.handover_places import new_place
from tests.paper.test_record_sheet import LARGEST, SECRET
from tests.paper_facts import facts_of
from tests.past_exams import keep_visits
from tests.printed import SIZES, font, missing, pages_of, words_of

FLOCKS = ("sheep", "chicken", "cattle")


def round_of(species, seeds, steps=12):
    """Make a group's exam and rows, as a round has them."""
    first = begin(species, Scope.GROUP, Sex.FEMALE, 1)
    animal = replace(first.exam.animal, name="Hollow flock", is_group=True)
    facts = GroupFacts(40, len(seeds), 1, 0, "every tenth")
    group = replace(first.exam, animal=animal, group=facts)
    rows = []
    for number, seed in enumerate(seeds):
        drive = begin(species, Scope.GROUP, Sex.FEMALE, seed)
        drive_on(drive, steps)
        drive.exam = record_visit(drive.exam, PrivateNote(SECRET, drive.by()))
        named = replace(drive.exam.animal, name=f"Ewe {number}")
        rows.append(replace(drive.exam, animal=named))
    return group, first.protocol, rows


@pytest.mark.slow
@given(
    species=st.sampled_from(FLOCKS),
    seeds=st.lists(st.integers(0, 2**32), min_size=1, max_size=4),
    size=st.sampled_from(SIZES),
)
def test_finds_flags_gaps_remarks_and_marks_of_each_row_are_on_the_round(
    species, seeds, size
):
    group, protocol, rows = round_of(species, seeds)
    columns = columns_offered(protocol, Role.TECHNICIAN)
    pdf = round_sheet(group, protocol, columns, rows, size, font())
    said = [fact for exam in rows for fact in facts_of(exam, protocol)]
    assert missing([*said, "Hollow flock"], pdf) == []
    assert missing([column.label for column in columns], pdf) == []
    assert SECRET not in words_of(pdf)
    assert len(pdf) <= LARGEST


def test_a_number_in_a_cell_stands_with_the_unit_it_was_typed_in():
    group, protocol, (row,) = round_of("sheep", [0], steps=0)
    columns = columns_offered(protocol, Role.TECHNICIAN)
    measured = next(c for c in columns if c.name == "temperature")
    vital = protocol.vital("temperature")
    reading = Reading("103.1", "degF", vital.measure.precision * 1031)
    entry = replace(row.vital("temperature"), reading=reading)
    told = replace(row, vitals={"temperature": entry})
    pdf = round_sheet(group, protocol, (measured,), [told], PageSize.A4, font())
    assert missing(["103.1 °F"], pdf) == []


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_long_round_repeats_its_heads_on_each_page_and_loses_no_row(size):
    group, protocol, rows = round_of("sheep", range(70), steps=0)
    columns = columns_offered(protocol, Role.TECHNICIAN)[:3]
    pdf = round_sheet(group, protocol, columns, rows, size, font(), empty=5)
    pages = pages_of(pdf)
    assert missing([exam.animal.name for exam in rows], pdf) == []
    tables = [page for page in pages if "Animal" in page]
    assert len(tables) >= 2
    assert all(columns[0].label in page.replace("\n", " ") for page in tables)


async def test_day_list_says_what_the_review_says_in_its_order(tmp_path):
    place = await new_place(tmp_path / "clinic", "Clinic", "clinic")
    vault = place.vault
    keep_visits(vault)
    rows = vault.closed.latest(50)
    pdf = print_day_list(vault, rows, "For the veterinarian", PageSize.LETTER, font())
    for row in rows:
        said = review_lines(row, "", pressing_of(vault, row))
        assert missing([review_title(row), *said], pdf) == []
    assert missing(["For the veterinarian"], pdf) == []
    vault.close()


def test_day_list_of_nothing_says_so_and_keeps_the_order_of_groups():
    empty = day_sheet("Today", [("Urgent", [])], PageSize.A4, font())
    assert missing(["Nothing is on this list."], empty) == []
    lines = [ListLine(f"Animal {number}", ("one", "two")) for number in range(60)]
    pdf = day_sheet("Today", [("First", lines), ("Then", lines)], PageSize.A4, font())
    printed = words_of(pdf)
    assert printed.index("First") < printed.index("Animal59") < printed.index("Then")
    assert printed.count("Animal7one") == 2
