"""Animals from a table: nothing guessed, nothing joined, every refusal with its reason.

Chip numbers are of the range for tests (ISO 11784: 999), or invented; what makes one
wrong is tested with its sources in ``tests/domain``.
"""

import asyncio
import codecs
import csv
import io
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.app.animal_import import table_file
from exam_app.app.animal_import.importing import (
    NoSuchImportError,
    import_animals,
    imports_of,
    undo_import,
)
from exam_app.app.animal_import.matching import (
    Matching,
    UnmatchedTableError,
    match,
    read_date,
    remember,
)
from exam_app.app.animal_import.planning import plan_import
from exam_app.app.animal_import.table_file import (
    LARGEST_FILE,
    TableEncodingError,
    TableShapeError,
    TableTooLargeError,
    cell_problem,
    read_table,
    table_of,
)
from exam_app.app.exam_sessions import new_id
from exam_app.domain.animal.signalment import AgeBasis, Sex
from exam_app.store.errors import UnreadableFileError, VaultError
from exam_app.whole_export.animal_tables import animal_table, owner_table
from tests.exam_samples import NOW
from tests.handover_places import LATER, animal, new_place, small_exam

TODAY = date(2026, 9, 21)
SPECIES = {"dog": "Dog", "guinea_pig": "Guinea pig"}
CHIP, OTHER_CHIP = "999000000000001", "999000000000002"


@pytest.fixture
def place(tmp_path):
    made = asyncio.run(new_place(tmp_path / "v", "Tablet", "field", is_demo=False))
    yield made
    made.vault.close()


def table(*lines):
    return table_of("\n".join(lines).encode())


def planned(place, made, **said):
    matched = match(place.vault, made.header, Matching(**said))
    return plan_import(place.vault, made, matched, TODAY, new_id, SPECIES)


def reasons(plan):
    return {row.line: row.reason for row in plan.refused}


def names(place):
    return [one.name for one in place.vault.animals.all()]


def test_a_row_becomes_an_animal_with_what_stands_in_it(place):
    made = table(
        "name,species,breed,sex,birth_date,chip,tag,place,colour,owner_name",
        f'Sorrel,dog,mixed,"female, neutered",03/04/2020,{CHIP},T 4,Pen 2,red,Ottilie',
    )
    plan = planned(place, made, date_order="day-month-year")
    (one,) = plan.new
    assert (plan.alike, plan.refused) == ((), ())
    found = one.animal
    assert (found.name, found.species, found.breed) == ("Sorrel", "dog", "mixed")
    assert (found.sex, found.birth_date) == (Sex.FEMALE_NEUTERED, "2020-04-03")
    assert (found.chip, found.tag, found.place) == (CHIP, "T 4", "Pen 2")
    assert one.owner.name == "Ottilie"
    import_animals(place.vault, plan.new, "list.csv", NOW)
    kept = place.vault.animals.get(found.animal_id)
    assert kept["owner"]["name"] == "Ottilie"
    assert place.vault.animals.search("Sorrel")


@pytest.mark.parametrize(
    ("order", "born"),
    [("day-month-year", "2020-04-03"), ("month-day-year", "2020-03-04")],
)
def test_a_date_is_read_in_the_order_that_was_said_and_no_other(place, order, born):
    made = table("name,species,birth_date", "Sorrel,dog,03/04/2020")
    (one,) = planned(place, made, date_order=order).new
    assert one.animal.birth_date == born
    refused = reasons(planned(place, made, date_order="year-month-day"))
    assert refused == {2: "birth_date: '03/04/2020' is no day written year-month-day"}


@pytest.mark.parametrize(
    "typed",
    ["3.4.20", "2020", "31/02/2020", "1/2/20200", "03/04-2020", "١/٢/٢٠٢٠", "0/0/2020"],
)
def test_a_date_that_can_be_meant_otherwise_is_none(typed):
    assert read_date(typed, "day-month-year") is None


@pytest.mark.parametrize(
    ("header", "said", "lacking"),
    [
        ("name,species,birth_date", {}, "the order of dates"),
        ("name,species,age", {"age_on": "2026-05-01"}, "the unit of ages"),
        ("name,species,age", {"age_unit": "years"}, "the day that the ages are of"),
        ("name", {}, "the species of all"),
        ("animal,species", {}, "which column is the name"),
        ("name,species", {"columns": {"tag": "ear"}}, "no column 'ear'"),
        ("name,species", {"columns": {"colours": "name"}}, "no field 'colours'"),
        ("name,species", {"words": {"breed:x": "y"}}, "no words for 'breed'"),
    ],
)
def test_what_is_not_said_is_asked_for_and_never_guessed(place, header, said, lacking):
    with pytest.raises(UnmatchedTableError, match=lacking):
        match(place.vault, header.split(","), Matching(**said))


def test_an_age_is_as_told_on_the_day_that_was_said(place):
    made = table("name,species,age", "Sorrel,dog,2.5", "Rue,dog,old")
    plan = planned(place, made, age_unit="years", age_on="2026-05-01")
    (one,) = plan.new
    found = one.animal
    assert (found.age_basis, found.age_on) == (AgeBasis.TOLD, "2026-05-01")
    assert (found.age_number, found.age_unit) == ("2.5", "years")
    assert reasons(plan) == {3: "Type the age as a number, for example 3 or 2.5."}


def test_a_word_that_is_not_ours_is_refused_until_its_meaning_was_said(place):
    made = table("name,species,sex", "Sorrel,Hund,w", "Rue,Guinea pig,male")
    plan = planned(place, made)
    assert reasons(plan) == {2: "sex: it was not said what 'w' means"}
    assert [one.animal.species for one in plan.new] == ["guinea_pig"]
    words = {"sex:w": "female", "species:hund": "dog"}
    first, _ = planned(place, made, words=words).new
    assert (first.animal.sex, first.animal.species) == (Sex.FEMALE, "dog")


def test_how_columns_were_matched_is_remembered_for_the_same_columns_only(place):
    header = ("Rufname", "Geboren", "Jahre")
    said = Matching(
        {"name": "Rufname", "birth_date": "Geboren", "age": "Jahre"},
        "dog",
        "day-month-year",
        "years",
        "2026-05-01",
        {"sex:w": "female"},
    )
    matched = match(place.vault, header, said)
    remember(place.vault, header, matched)
    with pytest.raises(UnmatchedTableError, match="the day that the ages are of"):
        # The ages of the next table are of another day.
        match(place.vault, header, Matching())
    again = match(place.vault, header, Matching(age_on="2026-06-01"))
    assert again == Matching(**{**vars_of(matched), "age_on": "2026-06-01"})
    other = match(
        place.vault, header, Matching({"age": ""}, date_order="year-month-day")
    )
    assert "age" not in other.columns
    assert other.date_order == "year-month-day"
    with pytest.raises(UnmatchedTableError):
        match(place.vault, (*header, "more"), Matching())


def vars_of(matched):
    return {name: getattr(matched, name) for name in matched.__slots__}


def test_an_animal_with_a_known_chip_is_proposed_and_never_joined(place):
    known = animal("Bramble", chip=CHIP, is_demo=False)
    place.close_exam(small_exam("one", of=known))
    spaced = " ".join((CHIP[:3], CHIP[3:9], CHIP[9:]))
    plan = planned(place, table("name,species,chip", f"Brambel,dog,{spaced}"))
    assert plan.new == ()
    (one,) = plan.alike
    assert (one.known, one.why) == ((known.animal_id,), "the same chip number")
    import_animals(place.vault, [one.planned], "list.csv", NOW)
    assert sorted(names(place)) == ["Brambel", "Bramble"]
    assert place.vault.animals.get(known.animal_id)["name"] == "Bramble"


def test_two_rows_with_one_chip_are_told_of(place):
    made = table("name,species,chip", f"A,dog,{CHIP}", f"B,dog,{CHIP}", "C,dog,")
    plan = planned(place, made)
    assert [one.animal.name for one in plan.new] == ["A", "C"]
    assert reasons(plan) == {3: "chip: line 2 has the same number"}


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (",dog,", "Give the animal a name"),
        ("Sorrel,,", "species: nothing stands there"),
        ("Sorrel,dog", "2 cells, and the table has 3 columns"),
        ("Sorrel,dog,12345", "chip: 5 digits"),
        ("Sorrel,dog,9.99E+14", "chip: A spreadsheet has shortened this number"),
        ('=HYPERLINK("x"),dog,', "a cell that a spreadsheet would run"),
        ("@sum,dog,", "a cell that a spreadsheet would run"),
        ("+cmd|' /C calc'!A0,dog,", "a cell that a spreadsheet would run"),
        ("Sor\0rel,dog,", "control characters"),
        ("Sor\u202erel,dog,", "control characters"),
        (f"{'x' * 1_001},dog,", "a cell of more than 1000 characters"),
    ],
)
def test_a_refused_row_says_why_and_costs_no_other(place, row, reason):
    made = table("name,species,chip", "First,dog,", row, "Last,dog,")
    plan = planned(place, made)
    assert [one.animal.name for one in plan.new] == ["First", "Last"]
    assert list(reasons(plan)) == [3]
    assert reason in reasons(plan)[3]


@pytest.mark.parametrize("harmless", ["+44 123 456", "-4", "-", "", "O'Hara", "x=1"])
def test_a_number_with_a_sign_is_no_formula(harmless):
    assert cell_problem(harmless) == ""


def test_every_row_is_new_alike_or_refused(place):
    place.close_exam(small_exam("one", of=animal("Bramble", chip=CHIP)))
    lines = [f"N{n},dog,{OTHER_CHIP[:-1]}{n}" for n in range(3, 9)]
    made = table("name,species,chip", *lines, f"B,dog,{CHIP}", "X,cow,", "")
    plan = planned(place, made)
    counted = len(plan.new) + len(plan.alike) + len(plan.refused)
    assert counted == len(made.rows) == 8


def test_an_import_is_undone_but_for_what_was_used_or_changed(place):
    made = table("name,species", "Sorrel,dog", "Rue,dog", "Tansy,dog", "Fern,dog")
    plan = planned(place, made)
    before = names(place)
    one = import_animals(place.vault, plan.new, "list.csv", NOW)
    sorrel, rue, *_ = plan.new
    place.close_exam(small_exam("one", of=sorrel.animal))
    changed = place.vault.animals.get(rue.animal.animal_id)
    place.vault.animals.put({**changed, "place": "Pen 3"})
    done = undo_import(place.vault, one.number, LATER)
    assert (done.removed, sorted(done.kept)) == (2, ["Rue", "Sorrel"])
    assert sorted(names(place)) == sorted([*before, "Rue", "Sorrel"])
    (kept,) = imports_of(place.vault)
    assert (kept.count, kept.undone) == (4, LATER.date_and_time())
    for number in (one.number, 0, -1, 2):
        with pytest.raises(NoSuchImportError):
            undo_import(place.vault, number, LATER)


def test_of_two_imports_the_one_that_was_named_is_undone(place):
    for name in ("Sorrel", "Rue"):
        plan = planned(place, table("name,species", f"{name},dog"))
        import_animals(place.vault, plan.new, f"{name}.csv", NOW)
    undo_import(place.vault, 1, LATER)
    assert names(place) == ["Rue"]
    assert [one.file for one in imports_of(place.vault)] == ["Sorrel.csv", "Rue.csv"]
    # A chip that went with an undo is like no animal any more.
    plan = planned(place, table("name,species", "Sorrel,dog"))
    assert len(plan.new) == 1


def test_an_import_that_cannot_be_saved_takes_in_nothing(place, monkeypatch):
    plan = planned(place, table("name,species", "Sorrel,dog", "Rue,dog"))
    real, calls = place.vault.animals.put, []

    def second_fails(plain):
        calls.append(plain)
        if len(calls) == 2:
            raise VaultError
        real(plain)

    monkeypatch.setattr(place.vault.animals, "put", second_fails)
    with pytest.raises(VaultError):
        import_animals(place.vault, plan.new, "list.csv", NOW)
    assert names(place) == []
    assert imports_of(place.vault) == ()


def test_a_table_of_our_own_export_comes_back(place, tmp_path):
    first = planned(
        place,
        table(
            "name,species,sex,birth_date,chip,colour",
            f'Sorrel,dog,female,2020-04-03,{CHIP},"red, white"',
        ),
        date_order="year-month-day",
    )
    import_animals(place.vault, first.new, "list.csv", NOW)
    made = table_of(b"".join(animal_table(place.vault)))
    undo_import(place.vault, 1, LATER)
    (again,) = planned(
        place,
        made,
        date_order="year-month-day",
    ).new
    (one,) = first.new
    for name in ("name", "species", "sex", "birth_date", "chip", "colour"):
        assert getattr(again.animal, name) == getattr(one.animal, name)
    assert b"".join(owner_table(place.vault)).count(b"\r\n") == 1


@pytest.mark.parametrize(
    ("content", "line"),
    [
        ("name\nM\u00fcller".encode("cp1252"), "line 2"),
        ("name\n\u00e4".encode("utf-16"), "line 1"),
        (b"name\n\xff\xfe\xfd", "line 2"),
        (b"name\n\xed\xa0\x80", "line 2"),
    ],
)
def test_a_wrong_encoding_is_told_with_its_line_and_not_guessed(content, line):
    with pytest.raises(TableEncodingError, match=line):
        table_of(content)


@pytest.mark.parametrize(
    ("encoding", "python"),
    [("utf-8", "utf-8"), ("utf-16", "utf-16"), ("windows-1252", "cp1252")],
)
def test_an_encoding_that_was_named_is_read(encoding, python):
    made = table_of("name\nM\u00fcller".encode(python), encoding)
    assert made.rows[0].cells == ("M\u00fcller",)


def test_a_byte_order_mark_is_no_part_of_the_first_column():
    assert table_of(codecs.BOM_UTF8 + b"name\nx").header == ("name",)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n\n",
        b",,\n",
        b"a,a\n1,2",
        b'a\n"no end',
        b'a\n"x"y\n',
        b"a\n" + b"x" * 140_000,
    ],
)
def test_what_is_no_table_is_told(content):
    with pytest.raises(TableShapeError):
        table_of(content)


def test_too_many_rows_or_columns_are_refused_before_they_are_kept():
    with pytest.raises(TableTooLargeError):
        table_of(b"a\n" + b"x\n" * (table_file.MOST_ROWS + 1))
    with pytest.raises(TableTooLargeError):
        table_of(b",".join([b"a%d" % n for n in range(101)]))
    assert len(table_of(b"a\n" + b"x\n" * table_file.MOST_ROWS).rows) == 20_000


def test_a_file_of_a_gigabyte_is_refused_unread(tmp_path, monkeypatch):
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(2**30)
    monkeypatch.setattr(table_file, "table_of", None)
    with pytest.raises(TableTooLargeError):
        read_table(path)
    assert LARGEST_FILE < 2**30


def test_what_is_no_ordinary_file_is_refused(tmp_path):
    for path in (tmp_path, tmp_path / "none.csv"):
        with pytest.raises(UnreadableFileError):
            read_table(path)


@given(content=st.binary(max_size=400))
def test_any_bytes_are_a_table_or_an_error_of_ours(content):
    try:
        made = table_of(content)
    except (TableEncodingError, TableShapeError, TableTooLargeError):
        return
    assert made.header


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=12)


@pytest.mark.slow
@given(rows=st.lists(st.lists(CELLS, min_size=2, max_size=2), max_size=6))
def test_cells_are_read_as_another_writer_wrote_them(rows):
    text = io.StringIO(newline="")
    csv.writer(text).writerows([["a", "b"], *rows])
    made = table_of(text.getvalue().encode())
    said = [tuple(row) for row in rows if any(cell.strip() for cell in row)]
    assert [row.cells for row in made.rows] == said
