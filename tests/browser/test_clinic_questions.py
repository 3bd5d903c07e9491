"""What only a person decides at the clinic, each on its screen in a browser."""

from pathlib import Path

import pytest

from exam_app.app.clinic.imports import import_sealed
from exam_app.app.exam_sessions import now
from exam_app.app.queries import clinic_records
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.merge import Clash
from tests.app.test_clinic_store import revised, sealed_records
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.prepared import run_apart, unlock
from tests.clinic_and_device import opened_both, prepare_both, sealed_by


async def fill(folder: Path) -> str:
    """Make a clinic with a fork, a join, a clash and a hand-over set aside."""
    await prepare_both(folder / "made")
    async with opened_both(folder / "made", folder / "open") as (clinic, device):
        vault = clinic.vault
        vault.settings.put("recovery_confirmed", value=True)
        import_sealed(vault, sealed_by(device.vault)[0], now())
        rows = clinic_records.received_rows(vault)
        exam_id, animals = rows[0].exam_id, [row.animal_id for row in rows]
        kept = clinic_records.read_record(vault, exam_id).kept
        both = [revised(device.vault, kept, w) for w in ("came back", "went home")]
        sealed = sealed_records(vault, device.vault, *both)
        import_sealed(vault, sealed, now())
        device_id = device.vault.settings.get("device_id")
        _ask(vault, tuple(dict.fromkeys(animals)), device_id)
        Exchange(vault).pairing.revoke_device(device_id, 90, now().utc_ms, "Dr Ondine")
        # A revoked device that uses an old number again is set aside.
        late = sealed_records(vault, device.vault, both[0])
        import_sealed(vault, late, now())
    return exam_id


def _ask(vault, animals, device_id):
    identity = Exchange(vault).identity
    identity.propose_join(*animals[:2], "owner and name", 1)
    key, which = f"{animals[0]}:colour", (animals[0], device_id)
    identity.put_clash(Clash("colour", "grey", "blue", key, *which, 1))


@pytest.mark.parametrize("size", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_forks_joins_clashes_and_what_was_set_aside_wait_for_a_person(
    size, tmp_path, run_app, open_page
):
    name = "phone" if size == PHONE else "laptop"
    exam_id = run_apart(lambda: fill(tmp_path))
    app = run_app(folder=tmp_path / "open" / "clinic")
    driver = open_page(size)
    unlock(driver, app)
    driver.wait("clinic-summary")
    driver.shot(f"clinic-questions-{name}")
    driver.go(f"/clinic/record/{exam_id}")
    driver.wait_text("clinic-fork-notice", "2 versions of this record exist")
    driver.go(f"/clinic/versions/{exam_id}")
    driver.wait_text("clinic-fork-side-1", "came back")
    driver.shot(f"clinic-versions-{name}")
    driver.go("/clinic/animals")
    driver.wait(driver.named("clinic-clash-theirs-"))
    driver.shot(f"clinic-animals-{name}")
    driver.click(driver.named("clinic-clash-theirs-"))
    driver.wait_text("told", "Colour of")
    driver.click(driver.named("clinic-join-yes-"))
    driver.wait_text("screen", "No question is open")
    driver.go("/clinic/quarantine")
    driver.wait(driver.named("clinic-drop-"))
    driver.shot(f"clinic-quarantine-{name}")
    driver.click(driver.named("clinic-drop-"))
    driver.click("clinic-reason-save")
    driver.wait_text("sheet", "Write why")
    driver.type("clinic-reason", "sent twice by mistake")
    driver.click("clinic-reason-save")
    driver.wait_text("screen", "Nothing waits")
