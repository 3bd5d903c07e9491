"""Erasing owner details and listing what is due, without a page."""

import asyncio
import io
import sys
from dataclasses import replace

import pytest

from exam_app.__main__ import Costs, main
from exam_app.domain.animal.signalment import Owner
from exam_app.exchange.exchange import Exchange
from exam_app.store.engine.files import open_file
from tests.exam_samples import VETERINARIAN
from tests.handover_places import (
    BOUNDS,
    CHEAP,
    PASSPHRASE,
    animal,
    new_place,
    open_place,
    paired_places,
    small_exam,
)

COSTS = Costs(CHEAP, BOUNDS)
OWNER = Owner("Ottilie Quandt", "555 0199")
BRAMBLE = animal("Bramble", is_demo=False)
PERSON = replace(VETERINARIAN, initials="MO")


async def fill(folder):
    place = await new_place(folder, "Tablet", "field", is_demo=False, opener=open_file)
    place.vault.people.put(PERSON)
    place.vault.settings.put("last_person", PERSON.person_id)
    place.close_exam(small_exam("one", of=BRAMBLE), OWNER)
    place.close_exam(small_exam("two", of=animal("Bramble junior", is_demo=False)))
    place.vault.close()


@pytest.fixture
def folder(tmp_path):
    asyncio.run(fill(tmp_path / "v"))
    return tmp_path / "v"


@pytest.fixture
def run(monkeypatch, capsys, folder):
    def run(*arguments, typed=()):
        lines = "\n".join([PASSPHRASE, *typed])
        monkeypatch.setattr(sys, "stdin", io.StringIO(f"{lines}\n"))
        code = main([*map(str, arguments), "--data", str(folder)], COSTS)
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


def opened(folder, look):
    async def do():
        place = await open_place(folder, "Tablet", is_demo=False)
        try:
            return look(place.vault)
        finally:
            place.vault.close()

    return asyncio.run(do())


def owner_of(vault):
    return vault.animals.get(BRAMBLE.animal_id).get("owner")


def test_owner_is_erased_after_the_animals_name_was_typed(run, folder, tmp_path):
    backup = tmp_path / "exams.backup"
    assert run("backup", backup)[0] == 0
    code, out, err = run("erase", "Bramble", typed=["bramble", "yes"])
    assert code == 0
    assert "Bramble (dog): this would be erased." in err
    assert "Of the owner: name, phone." in out
    assert f": {backup}." in out
    assert "nothing of it stays in them" in out
    assert "Quandt" not in out + err
    assert opened(folder, owner_of) is None
    (logged,) = opened(folder, lambda vault: Exchange(vault).erasures.all())
    assert (logged.by, logged.reason) == (
        VETERINARIAN.name,
        "The owner asked for it.",
    )
    code, _, err = run("erase", BRAMBLE.animal_id, typed=["Bramble", "yes"])
    assert code == 1
    assert "No owner details of this animal are kept here" in err


@pytest.mark.parametrize("typed", [[], [""], ["junior"], ["yes"]])
def test_nothing_is_erased_without_the_animals_name(run, folder, typed):
    code, _, err = run("erase", "Bramble", typed=typed)
    assert code == 1
    assert "Nothing was erased" in err
    assert opened(folder, owner_of)["name"] == "Ottilie Quandt"


def test_files_may_be_written_anew_later_and_that_is_said(run, folder):
    code, out, _ = run("erase", "Bramble", typed=["Bramble", "no"])
    assert code == 0
    assert "until they are written anew" in out
    assert opened(folder, owner_of) is None


def test_animal_or_person_that_is_not_clear_is_asked_for(run, folder):
    code, _, err = run("erase", "bram", typed=["Bramble", "yes"])
    assert code == 1
    assert "More than one animal" in err
    assert BRAMBLE.animal_id in err
    assert "No animal here" in run("erase", "Nobody")[2]
    assert "Nobody of that name" in run("erase", "Bramble", "--by", "Ada")[2]
    code, *_ = run("erase", "Bramble", "--by", "mo", typed=["Bramble"])
    assert code == 0


def test_what_is_due_is_listed_and_nothing_is_erased(run, folder):
    code, out, _ = run("retention")
    assert code == 0
    assert "No time is set" in out
    assert "Nothing is due" in run("retention", "--years", "90")[1]
    code, out, _ = run("retention", "--years", "1")
    # The samples were closed in 2026: due a year later, and not before.
    assert code == 0
    assert "kept for 1 year." in out
    assert opened(folder, owner_of)["name"] == "Ottilie Quandt"
    assert "No time is set" in run("retention", "--years", "off")[1]
    for wrong in ("0", "101", "many"):
        with pytest.raises(SystemExit):
            run("retention", "--years", wrong)


async def test_receive_says_that_erased_details_came_again(
    tmp_path, monkeypatch, capsys
):
    async with paired_places(tmp_path, opener=open_file, is_demo=False) as (
        clinic,
        tablet,
    ):
        clinic.vault.people.put(PERSON)
        clinic.vault.settings.put("last_person", PERSON.person_id)
        first = tablet.close_exam(small_exam("one", of=BRAMBLE), OWNER)
        second = tablet.close_exam(small_exam("two", of=BRAMBLE))
        for name, exam in (("one", first), ("two", second)):
            (bundle,) = tablet.hand_over(exam)
            (tmp_path / f"{name}.exam-bundle").write_bytes(bundle.sealed)
        clinic.vault.close()
        data = ("--data", str(tmp_path / "clinic"))
        said = []
        for command, typed in (
            (("receive", str(tmp_path / "one.exam-bundle")), ""),
            (("erase", "Bramble"), "Bramble\nyes\n"),
            (("receive", str(tmp_path / "two.exam-bundle")), ""),
        ):
            lines = io.StringIO(f"{PASSPHRASE}\n{typed}")
            monkeypatch.setattr(sys, "stdin", lines)
            code = await asyncio.to_thread(main, [*command, *data], COSTS)
            assert code == 0
            said.append(capsys.readouterr().err)
        assert "came again" not in said[0]
        assert "came again with a hand-over and were not kept: Bramble" in said[2]
        assert "Quandt" not in "".join(said)
