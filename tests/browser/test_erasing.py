"""Owner details are erased from an animal's page and from the list of what is due."""

import pytest

from exam_app.app.demo import demo
from exam_app.store.repositories.reports import Backup
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.prepared import PIN, in_store, prepare_folder, unlock


def fill(vault):
    """Keep the demonstration's patients; give one with an owner and a closed exam."""
    demo.fill(vault)
    vault.backups.keep(Backup("2026-11-20 08:00", "a stick", 9, 1))
    with_exam = {row.animal_id for row in vault.closed.everything()}
    return next(
        vault.animals.get(one.animal_id)
        for one in vault.animals.all()
        if one.animal_id in with_exam and one.has_owner
    )


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_owner_is_erased_from_the_animals_page(tmp_path, run_app, open_page, size):
    name = "phone" if size == PHONE else "laptop"
    folder = prepare_folder(tmp_path / "exams")
    animal = in_store(folder, fill)
    driver, app = open_page(size), run_app(folder=folder)
    unlock(driver, app)
    driver.go(f"/animal/{animal['animal_id']}")
    driver.scroll_to("animal-erase")
    driver.click("animal-erase")
    driver.wait_text("erase-what", "Of the owner: name")
    driver.wait_text("erase-what", "the signatures stay valid")
    driver.shot(f"erase-asked-{name}")
    driver.scroll_to("clinic-pin")
    driver.type("clinic-pin", PIN)
    driver.click("clinic-note-save")
    driver.wait_text("erase-reason-problem", "Choose why")
    driver.scroll_to("erase-reason-requested")
    driver.click("erase-reason-requested")
    driver.scroll_to("clinic-pin")
    driver.type("clinic-pin", PIN)
    driver.click("clinic-note-save")
    driver.wait_text("erase-said", "The backup of 2026-11-20 08:00: a stick.")
    driver.shot(f"erase-said-{name}")
    driver.scroll_to("erase-anew")
    driver.click("erase-anew")
    driver.wait_text("erase-files", "nothing of it stays in them")
    driver.click("sheet-close")
    driver.gone("sheet")
    driver.scroll_to("animal-erase")
    driver.click("animal-erase")
    driver.wait_text("told", "No owner details of")
    driver.go("/settings/owners")
    driver.wait_text("retention-erased", "The owner asked for it.")
    driver.type("retention-years", "200")
    driver.click("retention-save")
    driver.wait("retention-years")
    driver.type("retention-years", "1")
    driver.click("retention-save")
    driver.wait_text("told", "Saved")
    driver.shot(f"retention-{name}")
    app.stop()
    owner = in_store(
        folder, lambda vault: vault.animals.get(animal["animal_id"]).get("owner")
    )
    assert owner is None
