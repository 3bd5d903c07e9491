"""What the clinic saves from a record for other programs, through a real download."""

import json

import pytest

from tests.browser.clinic_pages import enter_clinic
from tests.browser.driver import PHONE


@pytest.fixture
def clinic(run_app, tmp_path, monkeypatch):
    """The demonstration's clinic, its throw-away files in the test's folder."""
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    return run_app("--demo", "--clinic")


def test_a_record_is_saved_as_fhir_and_the_file_names_the_hash_on_the_screen(
    clinic, open_page
):
    driver = open_page(PHONE)
    enter_clinic(driver, clinic.first_address())
    driver.click("clinic-read-next")
    driver.wait_text("record-signed", "the signature fits")
    driver.scroll_to("clinic-save-fhir")
    driver.shot("clinic-save-fhir-phone")
    name, content = driver.download("clinic-save-fhir")
    bundle = json.loads(content)
    assert bundle["resourceType"] == "Bundle"
    assert bundle["meta"]["security"][0]["code"] == "HTEST"
    start = bundle["identifier"]["value"][:8]
    assert name.endswith(f"-{start}.fhir.json")
    driver.read_down_to(bundle["identifier"]["value"])
