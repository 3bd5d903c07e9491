"""``animals import`` and ``animals undo`` as they are run."""

import asyncio
import io
import sys

import pytest

from exam_app.__main__ import Costs, main
from exam_app.store.engine.files import open_file
from tests.handover_places import (
    BOUNDS,
    CHEAP,
    PASSPHRASE,
    animal,
    new_place,
    open_place,
    small_exam,
)

COSTS = Costs(CHEAP, BOUNDS)
CHIP = "999000000000001"
SAID = ("--column", "name=Rufname", "--column", "chip=Chip", "--species", "dog")


async def fill(folder):
    place = await new_place(folder, "Tablet", "field", is_demo=False, opener=open_file)
    place.close_exam(small_exam("one", of=animal("Bramble", chip=CHIP)))
    place.vault.close()


@pytest.fixture
def folder(tmp_path):
    asyncio.run(fill(tmp_path / "v"))
    return tmp_path / "v"


@pytest.fixture
def run(monkeypatch, capsys, folder):
    def run(*arguments, typed=PASSPHRASE):
        monkeypatch.setattr(sys, "stdin", io.StringIO(f"{typed}\n"))
        code = main(["animals", *map(str, arguments), "--data", str(folder)], COSTS)
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


@pytest.fixture
def listed(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(
        "Rufname,Chip,Geboren\n"
        f"Sorrel,,03/04/2020\nBrambel,{CHIP},\n=1+1,,\nRue,,02/01/2021\n",
        "utf-8",
    )
    return path


def names(folder):
    async def look():
        place = await open_place(folder, "Tablet", is_demo=False)
        try:
            return [one.name for one in place.vault.animals.all()]
        finally:
            place.vault.close()

    return asyncio.run(look())


def test_a_preview_says_what_would_become_of_every_row_and_changes_nothing(
    run, folder, listed
):
    code, out, _ = run("import", listed, *SAID)
    assert code == 4
    assert "Column “Rufname” is name." in out
    assert "Not taken: “Geboren”." in out
    assert "Line 4 refused. name: a cell that a spreadsheet would run: =1+1" in out
    assert "Line 3: Brambel may be Bramble, the same chip number. Not joined" in out
    assert "2 new animals, 1 like animals here, 1 refused." in out
    assert "Nothing was taken in yet: give the command again with --do." in out
    assert names(folder) == ["Bramble"]


def test_columns_are_remembered_and_an_import_is_undone(run, folder, listed):
    run("import", listed, *SAID)
    code, out, _ = run("import", listed, "--do")
    assert code == 4
    assert "Import 1: 2 animals taken in." in out
    assert names(folder) == ["Bramble", "Sorrel", "Rue"]
    assert "1: list.csv, " in run("undo")[1]
    code, out, _ = run("undo", 1)
    assert (code, out) == (0, "2 animals removed.\n")
    assert names(folder) == ["Bramble"]
    assert "undone" in run("undo")[1]
    code, _, err = run("undo", 1)
    assert (code, "undone already" in err) == (1, True)


def test_a_row_like_another_is_taken_in_as_its_own_only_when_said(run, folder, listed):
    run("import", listed, *SAID, "--do", "--also-alike")
    assert names(folder) == ["Bramble", "Sorrel", "Rue", "Brambel"]


def test_dates_are_read_in_the_order_that_is_said(run, listed):
    code, _, err = run("import", listed, *SAID, "--column", "birth_date=Geboren")
    assert (code, "the order of dates" in err) == (1, True)
    dated = (*SAID, "--column", "birth_date=Geboren", "--dates", "day-month-year")
    code, out, _ = run("import", listed, *dated)
    assert "born 2020-04-03" in out


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"name,species\nM\xfcller,dog\n", "encoding"),
        (b"name;species\nSorrel;dog\n", "which column is the name"),
        (b'name,species\n"Sorrel,dog\n', "line 2"),
        (b"", "cannot be read as a table"),
    ],
)
def test_what_cannot_be_read_is_a_sentence_and_changes_nothing(
    run, folder, tmp_path, content, said
):
    path = tmp_path / "bad.csv"
    path.write_bytes(content)
    code, _, err = run("import", path, "--do")
    assert (code, said in err) == (1, True)
    assert names(folder) == ["Bramble"]


def test_names_in_a_table_cannot_steer_a_terminal(run, tmp_path):
    path = tmp_path / "bad.csv"
    path.write_bytes("name,species,no\u202ete\x1b[2J\nSorrel,dog,x\n".encode())
    code, out, err = run("import", path)
    assert code == 0
    assert "\x1b" not in out + err
    assert "\u202e" not in out + err


@pytest.mark.parametrize(
    "wrong", [("--column", "name"), ("--word", "m=male"), ("--dates", "any")]
)
def test_an_option_that_is_none_is_refused(run, listed, wrong):
    with pytest.raises(SystemExit) as ended:
        run("import", listed, *wrong)
    assert ended.value.code == 2
