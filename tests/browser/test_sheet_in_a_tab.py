"""A sheet to print in a real browser: in a tab of its own, or else a download."""

import pytest

from tests.browser.driver import LAPTOP
from tests.printed import words_of

_READ = """async (address) => {
  const answer = await fetch(address);
  return [answer.headers.get("content-type"), [...await answer.bytes()]];
}"""


@pytest.fixture
def printing(run_app, open_page):
    """The print sheet of an animal's blank form."""
    driver = open_page(LAPTOP)
    driver.open(run_app("--demo").first_address())
    driver.go("/kennel")
    driver.click(driver.named("kennel-row-"))
    driver.click("print")
    driver.wait("print-sheet-kennel-card")
    return driver


@pytest.mark.chromium_only("a tab and a download are the browser's own")
def test_a_sheet_is_shown_in_a_tab_of_its_own(printing):
    with printing.page.expect_popup() as opened:
        printing.click("print-sheet-kennel-card")
    address = opened.value.url
    assert address.startswith("blob:")
    kind, content = printing.page.evaluate(_READ, address)
    assert kind == "application/pdf"
    assert "Exam" in words_of(bytes(content))
    printing.wait_text("told", "in a tab of its own")


@pytest.mark.chromium_only("a tab and a download are the browser's own")
@pytest.mark.parametrize(
    "lacking",
    [
        "window.open = () => null",
        "Object.defineProperty(navigator, 'pdfViewerEnabled', { value: false })",
    ],
    ids=["no tab", "no viewer"],
)
def test_where_no_tab_is_opened_a_sheet_is_a_download(printing, lacking):
    printing.page.evaluate(lacking)
    name, content = printing.download("print-sheet-kennel-card")
    assert name.startswith("kennel-card-")
    assert "Exam" in words_of(content)
